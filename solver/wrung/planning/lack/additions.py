"""Blocks whose addition would let every demand be served.

The stacks of the plan stay as they are. Each demand without a stack is completed in turn from the
pieces left free, with as few blocks added as possible. What is returned was thus really built.
Where all demands are needed at one time and the plan serves the most, one block for each demand
without a stack is the fewest there can be: without the stacks that hold added blocks, what remains
is a plan too.
"""

from msgspec import Struct

from wrung.answers import Wanted
from wrung.planning.deadline import Deadline
from wrung.planning.finding import Plan
from wrung.planning.lack.catalogue import addable
from wrung.planning.lack.completion import Completion, Offers, complete
from wrung.planning.parts import free_pieces, put, rivals
from wrung.planning.problem import Problem


class _Added(Struct, frozen=True, kw_only=True):
    """An added block, and the demands whose stacks hold it at one time or another."""

    block: Wanted
    holders: frozenset[int]


def additions(problem: Problem, plan: Plan, deadline: Deadline) -> tuple[Wanted, ...]:
    """Blocks that together let every demand be served; empty if none were found in time."""
    offers = addable(problem.pieces)
    added: list[_Added] = []
    for demand in [k for k, stack in enumerate(plan) if stack is None]:
        near = rivals(problem, demand)
        lent = tuple(one.block for one in added if not one.holders & near)
        free = free_pieces(problem, plan, demand)
        found = complete(problem, demand, free, Offers(lent=lent, new=offers), deadline)
        if found is None:
            return ()
        plan = put(plan, demand, found.pieces)
        _hold(added, demand, found, near)
    return tuple(one.block for one in added)


def _hold(added: list[_Added], demand: int, found: Completion, near: frozenset[int]) -> None:
    """Note that the demand holds the blocks added for it, lent ones first."""
    for block in found.added:
        taken = near | {demand}
        lent = (i for i, one in enumerate(added) if one.block == block and not one.holders & taken)
        place = next(lent, None)
        if place is None:
            added.append(_Added(block=block, holders=frozenset({demand})))
        else:
            added[place] = _Added(block=block, holders=added[place].holders | {demand})
