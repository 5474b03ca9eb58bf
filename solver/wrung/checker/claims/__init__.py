"""What an answer claims beside its stacks: bounds, proofs, reasons, advice.

Where only these do not hold, the stacks are right: they may be built, but nothing else trusted.
"""
