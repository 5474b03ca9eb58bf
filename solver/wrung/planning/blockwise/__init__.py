"""The direct model: which piece stands in which stack, as a CP-SAT model.

scaled.py brings the problem to small whole numbers; choices.py holds the variables, rules.py what
makes a plan a plan, implied.py what follows from that and helps the solver; solving.py runs it;
progress.py keeps what is proven. wrung.planning.direct puts them together.
"""
