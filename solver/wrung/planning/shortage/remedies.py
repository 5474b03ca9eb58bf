"""Which restrictions of the request stand in the way of a demand without a stack.

They are lifted one at a time, then two at a time and so on, until the demand can be built; the
stack built then is the proof. Nothing is named that was not tried. For targets whose stacks may be
rounded, likewise: the finest rounding step with which they could be built.
"""

from collections.abc import Collection, Iterator, Sequence
from itertools import combinations

from msgspec.structs import replace

from wrung.answers import Remedy, Restriction, Unmet
from wrung.deadline import Deadline
from wrung.errors import InputError
from wrung.planning.engines import serve_all
from wrung.planning.parts import alone
from wrung.planning.problem import Demand, Problem, demand_of
from wrung.planning.solvers import Verdict
from wrung.targets import Target
from wrung.targets.limit_pair import LimitPairTarget
from wrung.targets.steps import usual_step


def remedies(
    problem: Problem, demand: int, free: Sequence[int], deadline: Deadline
) -> tuple[Remedy, ...]:
    """Every smallest choice of restrictions without which the free pieces serve the demand.

    Without those that stayed undecided. Empty if there is none, or if it stayed undecided whether
    fewer would do.
    """
    possible = tuple(_possible(problem, problem.demands[demand]))
    # Not all at once first: without wear blocks is no less to ask than with them.
    for size in range(1, len(possible) + 1):
        tried = [
            _without(problem, demand, free, lifted, deadline)
            for lifted in combinations(possible, size)
        ]
        helping = tuple(each for each in tried if isinstance(each, Remedy))
        if helping or "unknown" in tried:
            return helping
    return ()


def _possible(problem: Problem, demand: Demand) -> Iterator[Restriction]:
    """Those that apply to the demand at all."""
    forbidding = {restriction for each in problem.left_out for restriction in each.by}
    blocks: tuple[Restriction, ...] = ("overdue", "exclude", "only")
    for restriction in blocks:
        if restriction in forbidding:
            yield restriction
    if demand.requirement.max_blocks is not None:
        yield "max_blocks"
    if demand.wear:
        yield "wear_blocks"
    if demand.most_error is not None:
        yield "required_ratio"


def _without(
    problem: Problem,
    demand: int,
    free: Sequence[int],
    lifted: tuple[Restriction, ...],
    deadline: Deadline,
) -> Remedy | Verdict:
    """What serves the demand without these restrictions, or whether nothing does."""
    # Of a step block in use, the steps that are left out are in use as well.
    held = {piece.body for index, piece in enumerate(problem.pieces) if index not in free}
    # Of pieces that are alike, the first ones are taken: none is missed that is not needed.
    pieces = (
        *(problem.pieces[index] for index in free),
        *(
            each.piece
            for each in problem.left_out
            if each.by.issubset(lifted) and each.piece.body not in held
        ),
    )
    wanted = _freed(problem.demands[demand], lifted, len(pieces))
    found = serve_all(alone(problem, wanted, pieces), deadline)
    if found.stack is None:
        return found.verdict
    return Remedy(lifted=lifted, blocks=tuple(pieces[k].block.id for k in found.stack))


def _freed(demand: Demand, lifted: Collection[Restriction], available: int) -> Demand:
    most = None if "max_blocks" in lifted else demand.requirement.max_blocks
    return replace(
        demand,
        most=available if most is None else min(most, available),
        wear=0 if "wear_blocks" in lifted else demand.wear,
        step=demand.step or (demand.requirement.takes_step and "wear_blocks" in lifted),
        most_error=None if "required_ratio" in lifted else demand.most_error,
    )


def with_rounding(
    unserved: Sequence[Unmet], problem: Problem, targets: Sequence[Target], deadline: Deadline
) -> tuple[Unmet, ...]:
    """The same, with the step for those that could be built if they were rounded."""
    # Where a ratio is required, a length that can be built may still not be good enough.
    limited = {d.requirement.target for d in problem.demands if d.most_error is not None}
    missing = {each.target for each in unserved if each.reason == "cannot_be_built"} - limited
    steps = {
        each.ref: _step(problem, each, deadline)
        for each in targets
        if isinstance(each, LimitPairTarget) and each.rounded_to is None and each.ref in missing
    }
    return tuple(
        replace(each, rounded_to=steps.get(each.target))
        if each.reason == "cannot_be_built"
        else each
        for each in unserved
    )


def _step(problem: Problem, target: LimitPairTarget, deadline: Deadline) -> int | None:
    """The finest of the steps with which each stack of the target can be built by itself."""
    units = [piece.block.unit for piece in problem.pieces]
    if not units:
        return None
    blocks = [piece.block for piece in problem.pieces]
    usual = usual_step(blocks, "in" if 2 * units.count("in") > len(units) else "mm")
    for times in deadline.tuning.rounding_times:
        try:
            wanted = replace(target, rounded_to=times * usual).requirements()
        except InputError:  # nothing is left of the tolerance, nor would be with coarser steps
            return None
        demands = (demand_of(each, len(units), {}, problem.priorities) for each in wanted)
        parts = (alone(problem, demand, problem.pieces) for demand in demands)
        if all(serve_all(part, deadline).stack is not None for part in parts):
            return times * usual
    return None
