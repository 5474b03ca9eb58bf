"""Whose stacks hold the blocks that a demand would need, by priority."""

from msgspec import Struct

from wrung.deadline import Deadline
from wrung.planning.finding import Plan
from wrung.planning.lone import windows
from wrung.planning.parts import allowed, free_pieces, put, rivals
from wrung.planning.problem import Problem


class Holders(Struct, frozen=True, kw_only=True):
    """Stacks that hold the blocks.

    Attributes:
        priority: theirs. Were all stacks of less urgent priorities given up, the demand could
            still not be built (proven); with these given up too, it could.
        targets: theirs, as far as their blocks are in a stack that could then be built.
    """

    priority: int | None
    targets: tuple[str, ...]


def holders(problem: Problem, plan: Plan, demand: int, deadline: Deadline) -> Holders | None:
    """Which priority holds what the demand would need; None if that was not shown in time."""
    beside = [rival for rival in sorted(rivals(problem, demand)) if plan[rival] is not None]
    classes = {problem.demands[rival].priority_class for rival in beside}
    for own in sorted(classes, reverse=True):
        given_up = [k for k in beside if problem.demands[k].priority_class >= own]
        left = plan
        for rival in given_up:
            left = put(left, rival, None)
        probe = windows.build(problem, demand, free_pieces(problem, left, demand), deadline)
        if probe.stack is not None and allowed(problem, demand, probe.stack):
            of_class = [k for k in given_up if problem.demands[k].priority_class == own]
            return Holders(
                priority=problem.priorities[own],
                targets=_using(problem, plan, of_class, probe.stack),
            )
        if probe.stack is not None or not probe.decided:
            return None
    return None


def _using(
    problem: Problem, plan: Plan, among: list[int], stack: tuple[int, ...]
) -> tuple[str, ...]:
    """The targets of the stacks with a block of this one."""
    wanted = {problem.pieces[piece].block.id for piece in stack}
    held = (
        problem.demands[k].requirement.target
        for k in among
        if any(problem.pieces[piece].block.id in wanted for piece in plan[k] or ())
    )
    return tuple(dict.fromkeys(held))
