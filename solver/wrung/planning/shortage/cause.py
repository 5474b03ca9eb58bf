"""Whether stacks are only missing because all were asked for at once."""

from collections.abc import Mapping, Sequence

from wrung.answers import ShortageCause, Unmet
from wrung.deadline import Deadline
from wrung.planning.engines import servable
from wrung.planning.finding import Plan
from wrung.planning.lone.alone import Buildable
from wrung.planning.parts import subproblem
from wrung.planning.problem import Problem
from wrung.targets.turns import groups


def cause(
    problem: Problem,
    plan: Plan,
    reasons: Mapping[int, Unmet],
    buildable: Sequence[Buildable],
    deadline: Deadline,
) -> ShortageCause:
    """Why not every demand is served.

    Args:
        problem: the problem.
        plan: what is served; some demand is not.
        reasons: of the demands that are not.
        buildable: for each demand whether it can be built alone, where that is known.
        deadline: for searches.
    """
    found: list[bool | None] = []
    for group in groups([demand.requirement for demand in problem.demands]):
        served = _served(problem, plan, group, reasons, buildable)
        found.append(_searched(problem, group, deadline) if served is None else served)
        if found[-1] is False and not _restricted(reasons, group):
            return "blocks_missing"
    if None in found:
        return "undecided"
    return "restricted" if False in found else "wanted_at_once"


def _restricted(reasons: Mapping[int, Unmet], group: Sequence[int]) -> bool:
    """Whether only the request prevents every demand that cannot be built even alone."""
    unmet = [reasons[demand] for demand in group if demand in reasons]
    alone = [each for each in unmet if each.reason == "cannot_be_built"]
    return bool(alone) and all(each.remedies for each in alone)


def _served(
    problem: Problem,
    plan: Plan,
    group: Sequence[int],
    reasons: Mapping[int, Unmet],
    buildable: Sequence[Buildable],
) -> bool | None:
    """Whether the group can be served by itself, where that is known without a search."""
    if all(plan[demand] is not None for demand in group):
        return True
    known = {reasons[demand].reason if demand in reasons else None for demand in group}
    if "cannot_be_built" in known or any(buildable[demand] is False for demand in group):
        return False
    if len(group) > 1:
        return None
    # That a length can be built does not mean that its error is small enough.
    quick = buildable[group[0]] and problem.demands[group[0]].most_error is None
    return True if quick or known == {"blocks_in_use"} else None


def _searched(problem: Problem, group: Sequence[int], deadline: Deadline) -> bool | None:
    if deadline.passed:
        return None
    share = deadline.share(deadline.tuning.share_for_cause)
    return servable(subproblem(problem, group), share)
