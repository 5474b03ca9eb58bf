"""From a request to a proven plan.

problem.py normalises; direct.py is the CP-SAT model over single blocks; solve.py runs an engine
within the deadline and turns its finding into an answer; shortage.py and nearest.py explain what
cannot be had.
"""
