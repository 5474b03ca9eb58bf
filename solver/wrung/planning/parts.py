"""Parts of a problem: some of its demands, and the pieces that a plan leaves free for one."""

from collections.abc import Collection, Iterable, Sequence
from datetime import datetime
from typing import TypeVar

import numpy as np
from msgspec.structs import replace

from wrung.deadline import Deadline
from wrung.planning.finding import Plan
from wrung.planning.lone import build
from wrung.planning.problem import Demand, Piece, Problem, error_of, rivals

_Stack = TypeVar("_Stack")


def subproblem(problem: Problem, keep: Collection[int]) -> Problem:
    """The same pieces, and the demands with these indexes in their order."""
    if len(keep) == len(problem.demands):
        return problem
    return replace(problem, demands=tuple(problem.demands[k] for k in sorted(keep)))


def alone(problem: Problem, wanted: Demand, pieces: Iterable[Piece]) -> Problem:
    """A demand by itself, to be built of these pieces."""
    return replace(problem, pieces=tuple(pieces), demands=(wanted,))


def spread(part: Plan, keep: Collection[int], size: int) -> Plan:
    """A plan of the demands ``keep`` as a plan of all ``size`` demands."""
    stacks = dict(zip(sorted(keep), part, strict=True))
    return tuple(stacks.get(demand) for demand in range(size))


def free_pieces(problem: Problem, plan: Plan, demand: int) -> tuple[int, ...]:
    """The pieces whose body no other stack of the plan holds while the demand is needed."""
    held = {piece for rival in rivals(problem, demand) for piece in plan[rival] or ()}
    taken = frozenset(problem.taken_by(held))
    return tuple(k for k in range(len(problem.pieces)) if k not in taken)


def most_urgent_first(problem: Problem) -> Sequence[int]:
    """The demands by class, and within one in their order."""
    return sorted(range(len(problem.demands)), key=lambda k: problem.demands[k].priority_class)


def put(plan: tuple[_Stack, ...], demand: int, stack: _Stack) -> tuple[_Stack, ...]:
    """The plan, in whatever terms, with this stack for the demand."""
    return (*plan[:demand], stack, *plan[demand + 1 :])


def built(
    problem: Problem, demand: int, free: Sequence[int], deadline: Deadline
) -> tuple[int, ...] | None:
    """A stack of few of these pieces that serves the demand, if one is found easily.

    Only one stack is tried, so where the demand limits the error, others may be missed.
    """
    stack = build(problem, demand, free, deadline).stack
    return stack if stack is not None and allowed(problem, demand, stack) else None


def filled(problem: Problem, plan: Plan, deadline: Deadline) -> Plan:
    """The plan with every further demand served that the free pieces can easily serve."""
    for demand in most_urgent_first(problem):
        if plan[demand] is None and not deadline.passed:
            free = free_pieces(problem, plan, demand)
            plan = put(plan, demand, built(problem, demand, free, deadline))
    return plan


def allowed(problem: Problem, demand: int, stack: tuple[int, ...]) -> bool:
    """Whether the demand allows this stack's error."""
    return problem.demands[demand].allows(error_of(problem, demand, stack))


def contended(problem: Problem, demands: Sequence[int]) -> tuple[datetime | None, datetime | None]:
    """The time in which all of them are needed, where there is one; None where it is open."""
    if not demands[1:] or not problem.at_one_time[np.ix_(demands, demands)].all():
        return None, None
    wanted = [problem.demands[demand].requirement for demand in demands]
    starts = [each.needed_from for each in wanted if each.needed_from is not None]
    ends = [each.needed_until for each in wanted if each.needed_until is not None]
    return max(starts, default=None), min(ends, default=None)
