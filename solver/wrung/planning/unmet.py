"""Why a demand has no stack, whose stacks hold its blocks, and what can be built instead."""

from collections.abc import Sequence

from msgspec import Struct
from msgspec.structs import replace

from wrung.answers import Nearest, Unmet, UnmetReason
from wrung.deadline import Deadline
from wrung.planning.assembly import placed
from wrung.planning.engines import servable
from wrung.planning.finding import Plan
from wrung.planning.lone import windows
from wrung.planning.lone.windows import Buildable
from wrung.planning.parts import allowed, free_pieces, put, rivals, subproblem
from wrung.planning.problem import Problem
from wrung.planning.shortage.remedies import remedies


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
    wanted = problem.demands[demand].requirement
    if deadline.passed:
        known: UnmetReason = "cannot_be_built" if buildable is False else "not_decided"
        return Unmet(target=wanted.target, role=wanted.role, reason=known)
    everything = tuple(range(len(problem.pieces)))
    left = free_pieces(problem, plan, demand)
    reason = _reason(problem, demand, buildable, left, deadline)
    if reason == "not_decided":
        return Unmet(target=wanted.target, role=wanted.role, reason=reason)
    # Where others hold the blocks, only lengths that can stand beside theirs are of use.
    free = everything if reason == "cannot_be_built" else left
    in_use = reason == "blocks_in_use"
    # Of lengths without a choice of priorities, `Shortage` says more.
    told = in_use and (problem.signed or len(problem.priorities) > 1)
    held = holders(problem, plan, demand, deadline) if told else None
    below, above = nearest(problem, demand, free, deadline)
    return Unmet(
        target=wanted.target,
        role=wanted.role,
        reason=reason,
        nearest_below=below,
        nearest_above=above,
        held_by=held.targets if held else (),
        held_by_priority=held.priority if held else None,
        remedies=remedies(problem, demand, free, deadline),
    )


def _reason(
    problem: Problem, demand: int, buildable: Buildable, left: Sequence[int], deadline: Deadline
) -> UnmetReason:
    # Lengths alone do not show whether an error limit can be kept.
    if problem.demands[demand].most_error is not None:
        return _reason_within(problem, demand, buildable, left, deadline)
    if buildable is None:
        whole = windows.build(problem, demand, range(len(problem.pieces)), deadline)
        buildable = whole.stack is not None if whole.decided else None
    if buildable is False:
        return "cannot_be_built"
    beside = windows.build(problem, demand, left, deadline)
    in_use = buildable and beside.decided and beside.stack is None
    return "blocks_in_use" if in_use else "not_decided"


def _reason_within(
    problem: Problem, demand: int, buildable: Buildable, left: Sequence[int], deadline: Deadline
) -> UnmetReason:
    """The same for a demand that limits the error."""
    everything = range(len(problem.pieces))
    alone = buildable is not False and _servable(problem, demand, everything, deadline)
    if alone is False:
        return "cannot_be_built"
    beside = _servable(problem, demand, left, deadline)
    return "blocks_in_use" if alone and beside is False else "not_decided"


def _servable(
    problem: Problem, demand: int, free: Sequence[int], deadline: Deadline
) -> bool | None:
    """Whether these pieces serve the demand; None if that takes too long to say."""
    pieces = tuple(problem.pieces[index] for index in free)
    part = replace(subproblem(problem, [demand]), pieces=pieces)
    return servable(part, deadline.share(deadline.tuning.share_for_alone))


def nearest(
    problem: Problem, demand: int, free: Sequence[int], deadline: Deadline
) -> tuple[Nearest | None, Nearest | None]:
    """The longest length below the demand's window that the free pieces build, the shortest above.

    None where there is none, or where it was not proven before the deadline.
    """
    below, above = windows.neighbours(problem, demand, free, deadline)
    return _as_nearest(problem, below.stack), _as_nearest(problem, above.stack)


def _as_nearest(problem: Problem, stack: Sequence[int] | None) -> Nearest | None:
    if stack is None:
        return None
    return Nearest(
        length=sum(problem.pieces[index].nominal for index in stack),
        blocks=tuple(block.id for block in placed(problem, stack)),
    )


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
