"""The model over single blocks: which piece stands in which stack, as a CP-SAT model.

scaled.py brings the problem to small whole numbers; choices.py holds the variables, rules.py what
makes a plan a plan; solving.py runs it. wrung.planning.direct puts them together.
"""
