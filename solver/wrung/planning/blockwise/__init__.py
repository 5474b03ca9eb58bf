"""The direct model: which piece stands in which stack, as a CP-SAT model.

scaled.py brings the problem to small whole numbers; choices.py holds the variables; the rules are
in wrung.planning.rules, one in each file; solving.py runs the solver; known.py keeps what is
proven. wrung.planning.direct puts them together.
"""
