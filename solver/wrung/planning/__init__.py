"""From a request to a proven plan.

problem.py normalises, engines.py asks the engines in turn, best_plan.py keeps what they find, and
solve.py makes an answer of it within the time limit. unmet.py, nearest.py and shortage.py explain
what cannot be had: lone/ knows what one stack can be built of, lack/ which demands cannot stand
together and which blocks would help.

Two engines find plans. engine.py is built from candidate stacks: stock, tables, candidates, goals,
workbench, search, alone, scarcity, serving, master, pricing, selection, stages, largest, few,
least, assignment. direct.py is the CP-SAT model over single blocks, for what tables cannot hold.
"""
