"""The model over single blocks: which piece stands in which stack, as a CP-SAT model.

scaled.py brings the problem to small whole numbers; choices.py holds the variables and runs it,
rules.py says what makes a plan a plan. wrung.planning.direct puts them together.
"""
