"""Stacks that follow one another: of all best plans, the one whose stacks change the least.

The objectives are settled beforehand; nothing here makes a plan worse by any of them. counting.py
says what a change is, offers.py what else could stand in the plan; paths.py and joint.py choose,
handing.py gives each stack its pieces, and least_changes.py puts it together.
"""
