"""For targets whose stacks may be rounded: the rounding step that would make them buildable."""

from collections.abc import Iterator, Mapping, Sequence

from msgspec.structs import replace

from wrung.answers import Unmet
from wrung.deadline import Deadline
from wrung.errors import InputError
from wrung.lengths import Unit
from wrung.planning.lone import windows
from wrung.planning.problem import Problem, cliques_of, demand_of
from wrung.targets import Requirement, Target
from wrung.targets.limit_pair import LimitPairTarget
from wrung.targets.steps import usual_step
from wrung.tuning import Tuning


def with_rounding(
    unserved: Sequence[Unmet], problem: Problem, targets: Sequence[Target], deadline: Deadline
) -> tuple[Unmet, ...]:
    """The same, with the step for those that could be built if they were rounded."""
    # Where a ratio is required, a length that can be built may still not be good enough.
    limited = {d.requirement.target for d in problem.demands if d.most_error is not None}
    open_ = {
        each.ref: each
        for each in targets
        if isinstance(each, LimitPairTarget) and each.rounded_to is None and each.ref not in limited
    }
    steps: Mapping[str, int | None] = {
        ref: _step(problem, target, deadline)
        for ref, target in open_.items()
        if any(each.target == ref and each.reason == "cannot_be_built" for each in unserved)
    }
    return tuple(
        replace(each, rounded_to=steps.get(each.target))
        if each.reason == "cannot_be_built"
        else each
        for each in unserved
    )


def _step(problem: Problem, target: LimitPairTarget, deadline: Deadline) -> int | None:
    """The finest of the steps with which each stack of the target can be built by itself."""
    for step in _steps(problem, deadline.tuning):
        try:
            wanted = replace(target, rounded_to=step).requirements()
        except InputError:  # nothing is left of the tolerance, nor would be with coarser steps
            return None
        if all(_buildable(problem, each, deadline) for each in wanted):
            return step
    return None


def _steps(problem: Problem, tuning: Tuning) -> Iterator[int]:
    blocks = [piece.block for piece in problem.pieces]
    if blocks:
        usual = usual_step(blocks, _mostly_in([block.unit for block in blocks]))
        yield from (times * usual for times in tuning.rounding_times)


def _mostly_in(units: Sequence[Unit]) -> Unit:
    return "in" if 2 * units.count("in") > len(units) else "mm"


def _buildable(problem: Problem, wanted: Requirement, deadline: Deadline) -> bool:
    demands = (demand_of(wanted, len(problem.pieces), {}, problem.priorities),)
    part = replace(problem, demands=demands, cliques=cliques_of(demands))
    return windows.build(part, 0, range(len(part.pieces)), deadline).stack is not None
