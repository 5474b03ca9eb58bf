"""From a request to a proven plan.

problem.py normalises the request, engines.py asks the engines in turn, execution.py says what
happens step by step, and solve.py keeps the time limit. unmet.py and shortage/ explain what cannot
be built; lone.py knows what a single stack can be built from.

Two engines find plans. engine.py works with candidate stacks, in packages that build on one
another: candidates/, selection/, pricing/, objectives/. direct.py is the CP-SAT model over single
blocks, for problems that are too large for tables.
"""
