"""The independent check of an answer: every figure again, by plain arithmetic from the inputs.

It shares no code with the search. `verify` goes through the rules: those of stacks are in `rules`,
those of what is claimed beside them, see `Breach.claim`, in `claims`. `verify_alternatives`,
`verify_trade_off` and `verify_coverage` do the same for other answers, and `without_claims` takes
from an answer what is only claimed. That nothing better exists cannot be checked in this way; that
an answer does not contradict what it says of its own proof can.
"""
