"""The goals after the objective: of all best plans, the one that changes least and is preferred.

The objectives are settled beforehand; nothing here makes a plan worse by any of them. counting.py
says what changes and preferences come to, offers.py what else could stand in the plan. settling.py
settles goal after goal, as as_good.py counts them in a model over single blocks, whose stacks may
be chosen from candidates.
"""
