"""Why a demand has no stack, and what can be built instead."""

from collections.abc import Sequence

from wrung.answers import Unmet, UnmetReason
from wrung.planning.deadline import Deadline
from wrung.planning.finding import Plan
from wrung.planning.lone import windows
from wrung.planning.lone.alone import Buildable
from wrung.planning.nearest import nearest_above, nearest_below
from wrung.planning.parts import free_pieces
from wrung.planning.problem import Problem


def unmet(
    problem: Problem, plan: Plan, buildable: Sequence[Buildable], deadline: Deadline
) -> tuple[Unmet, ...]:
    """An entry for every demand without a stack; what is not proven in time is left out."""
    return tuple(
        _unmet(problem, plan, demand, buildable[demand], deadline)
        for demand, stack in enumerate(plan)
        if stack is None
    )


def _unmet(
    problem: Problem, plan: Plan, demand: int, buildable: Buildable, deadline: Deadline
) -> Unmet:
    everything = tuple(range(len(problem.pieces)))
    left = free_pieces(problem, plan, demand)
    reason = _reason(problem, demand, buildable, left, deadline)
    ref = problem.demands[demand].requirement.ref
    if reason == "not_decided":
        return Unmet(ref=ref, reason=reason)
    free = everything if reason == "cannot_be_built" else left
    return Unmet(
        ref=ref,
        reason=reason,
        below=nearest_below(problem, demand, free, deadline),
        above=nearest_above(problem, demand, free, deadline),
    )


def _reason(
    problem: Problem, demand: int, buildable: Buildable, left: Sequence[int], deadline: Deadline
) -> UnmetReason:
    if buildable is None:
        whole = windows.build(problem, demand, range(len(problem.pieces)), deadline)
        buildable = whole.stack is not None if whole.decided else None
    if buildable is False:
        return "cannot_be_built"
    beside = windows.build(problem, demand, left, deadline)
    in_use = buildable and beside.decided and beside.stack is None
    return "blocks_in_use" if in_use else "not_decided"
