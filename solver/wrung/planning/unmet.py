"""Why a demand has no stack, whose stacks hold its blocks, and what can be built instead."""

from collections.abc import Sequence

from wrung.answers import Nearest, Unmet, UnmetReason
from wrung.deadline import Deadline
from wrung.planning.assembly import placed
from wrung.planning.engines import serve_all
from wrung.planning.finding import Plan
from wrung.planning.lone import build, neighbours
from wrung.planning.parts import allowed, alone, free_pieces
from wrung.planning.problem import Problem, rivals
from wrung.planning.shortage.remedies import remedies
from wrung.planning.solvers import Verdict


def unmet(
    problem: Problem, plan: Plan, buildable: Sequence[Verdict], deadline: Deadline
) -> tuple[Unmet, ...]:
    """An entry for every demand without a stack; what is not proven in time is left out."""
    return tuple(
        _unmet(problem, plan, demand, buildable[demand], deadline)
        for demand, stack in enumerate(plan)
        if stack is None
    )


def _unmet(
    problem: Problem, plan: Plan, demand: int, buildable: Verdict, deadline: Deadline
) -> Unmet:
    wanted = problem.demands[demand].requirement
    if deadline.passed:
        known: UnmetReason = "cannot_be_built" if buildable == "impossible" else "not_decided"
        return Unmet(target=wanted.target, role=wanted.role, reason=known)
    left = free_pieces(problem, plan, demand)
    reason = _reason(problem, demand, buildable, left, deadline)
    if reason == "not_decided":
        return Unmet(target=wanted.target, role=wanted.role, reason=reason)
    # Where others hold the blocks, only lengths that can stand beside theirs are of use.
    free = range(len(problem.pieces)) if reason == "cannot_be_built" else left
    in_use = reason == "blocks_in_use"
    # Of lengths without a choice of priorities, `Shortage` says more.
    told = in_use and (problem.signed or len(problem.priorities) > 1)
    priority, held_by = holders(problem, plan, demand, deadline) if told else (None, ())
    below, above = nearest(problem, demand, free, deadline)
    return Unmet(
        target=wanted.target,
        role=wanted.role,
        reason=reason,
        nearest_below=below,
        nearest_above=above,
        held_by=held_by,
        held_by_priority=priority,
        remedies=remedies(problem, demand, free, deadline),
    )


def _reason(
    problem: Problem, demand: int, buildable: Verdict, left: Sequence[int], deadline: Deadline
) -> UnmetReason:
    # Lengths alone do not show whether an error limit can be kept.
    limited = problem.demands[demand].most_error is not None
    if buildable == "unknown" or (buildable == "found" and limited):
        buildable = _servable(problem, demand, range(len(problem.pieces)), deadline)
    if buildable == "impossible":
        return "cannot_be_built"
    beside = _servable(problem, demand, left, deadline)
    in_use = buildable == "found" and beside == "impossible"
    return "blocks_in_use" if in_use else "not_decided"


def _servable(problem: Problem, demand: int, free: Sequence[int], deadline: Deadline) -> Verdict:
    """Whether these pieces serve the demand."""
    pieces = (problem.pieces[index] for index in free)
    return serve_all(alone(problem, problem.demands[demand], pieces), deadline).verdict


def nearest(
    problem: Problem, demand: int, free: Sequence[int], deadline: Deadline
) -> tuple[Nearest | None, Nearest | None]:
    """The longest length below the demand's window that the free pieces build, the shortest above.

    None where there is none, or where it was not proven before the deadline.
    """
    below, above = neighbours(problem, demand, free, deadline)
    return _as_nearest(problem, below.stack), _as_nearest(problem, above.stack)


def _as_nearest(problem: Problem, stack: Sequence[int] | None) -> Nearest | None:
    if stack is None:
        return None
    return Nearest(
        length=sum(problem.pieces[index].nominal for index in stack),
        blocks=tuple(block.id for block in placed(problem, stack)),
    )


def holders(
    problem: Problem, plan: Plan, demand: int, deadline: Deadline
) -> tuple[int | None, tuple[str, ...]]:
    """The priority that holds what the demand would need, and its targets.

    Were all stacks of less urgent priorities given up, the demand could still not be built
    (proven); with those of this one given up too, it could, by a stack that has blocks of these
    targets. None and no targets if that was not shown in time.
    """
    beside = [rival for rival in sorted(rivals(problem, demand)) if plan[rival] is not None]
    classes = {problem.demands[rival].priority_class for rival in beside}
    for own in sorted(classes, reverse=True):
        given_up = [k for k in beside if problem.demands[k].priority_class >= own]
        left = tuple(None if k in given_up else stack for k, stack in enumerate(plan))
        probe = build(problem, demand, free_pieces(problem, left, demand), deadline)
        if probe.stack is not None and allowed(problem, demand, probe.stack):
            of_class = [k for k in given_up if problem.demands[k].priority_class == own]
            return problem.priorities[own], _using(problem, plan, of_class, probe.stack)
        if probe.stack is not None or probe.verdict == "unknown":
            break
    return None, ()


def _using(
    problem: Problem, plan: Plan, among: list[int], stack: tuple[int, ...]
) -> tuple[str, ...]:
    """The targets of the stacks with a block of this one."""
    wanted = {problem.pieces[piece].body for piece in stack}
    held = (
        problem.demands[k].requirement.target
        for k in among
        if any(problem.pieces[piece].body in wanted for piece in plan[k] or ())
    )
    return tuple(dict.fromkeys(held))
