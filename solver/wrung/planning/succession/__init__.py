"""The goals after the objective: of all best plans, the one that changes least and is preferred.

The objectives are settled beforehand; nothing here makes a plan worse by any of them. counting.py
says what a change is, offers.py what else could stand in the plan; joint.py chooses, handing.py
gives each stack its pieces, and least_changes.py puts it together. Then costs.py says what a
preference counts, and preferred.py settles one after another: among stacks and the pieces that they
are made of (by_pieces.py).
"""
