"""From a request to a proven plan.

problem.py normalises, engines.py asks the engines in turn, best_plan.py keeps what they find, and
solve.py makes an answer of it within the time limit. unmet.py, nearest.py and shortage/ explain
what cannot be had; lone/ knows what one stack can be built of.

Two engines find plans. engine.py is built from candidate stacks, in rooms that lie one behind the
other: candidates/, selection/, pricing/, objectives/. direct.py is the CP-SAT model over single
blocks, for what tables cannot hold.
"""
