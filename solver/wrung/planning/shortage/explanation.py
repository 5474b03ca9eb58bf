"""Why not every demand is served: what lacks, or only because all were wanted at once."""

from collections.abc import Mapping, Sequence

from wrung.answers import ScarceBlock, Shortage, ShortageCause, Unmet
from wrung.deadline import Deadline
from wrung.planning.engines import serve_all
from wrung.planning.finding import Plan
from wrung.planning.parts import contended, subproblem
from wrung.planning.problem import Problem
from wrung.planning.shortage.additions import Additions, additions
from wrung.planning.shortage.conflict import Conflict, find_conflict
from wrung.planning.shortage.scarce import scarce_blocks
from wrung.planning.solvers import Verdict
from wrung.targets.turns import groups


def shortage(
    problem: Problem,
    plan: Plan,
    reasons: Mapping[int, Unmet],
    most_served: int,
    deadline: Deadline,
) -> Shortage | None:
    """Scarce blocks, a smallest set of demands in conflict, and blocks that would serve all.

    Args:
        problem: the problem.
        plan: what is served; some demand is not.
        reasons: of the demands that are not.
        most_served: no plan serves more demands.
        deadline: for the whole.

    Returns:
        None where nothing was proven before the deadline.
    """
    why = _cause(problem, plan, reasons, deadline)
    scarce: tuple[ScarceBlock, ...] = ()
    add = Additions(left=frozenset(reasons))
    conflict: Conflict | None = None
    if not deadline.passed:
        share = deadline.share(deadline.tuning.share_for_scarce)
        scarce = scarce_blocks(problem, plan, most_served, share)
        share = deadline.share(deadline.tuning.share_for_additions)
        add = add if problem.signed else additions(problem, plan, share)
        alone = [k for k, each in reasons.items() if each.reason == "cannot_be_built"]
        if alone:
            conflict = Conflict(demands=(min(alone),), smallest=True)
        elif not deadline.passed:
            conflict = find_conflict(problem, plan, most_served, deadline)
    if conflict is None and why == "undecided" and not scarce:
        return None
    demands = conflict.demands if conflict else ()
    contended_from, contended_until = contended(problem, demands)
    return Shortage(
        cause=why,
        contended_from=contended_from,
        contended_until=contended_until,
        conflict=tuple(problem.demands[k].requirement.name for k in demands),
        smallest_conflict_proven=conflict is not None and conflict.smallest,
        blocks_to_add=add.blocks,
        not_helped=tuple(problem.demands[k].requirement.name for k in sorted(add.left)),
        scarce_blocks=scarce,
    )


def _cause(
    problem: Problem, plan: Plan, reasons: Mapping[int, Unmet], deadline: Deadline
) -> ShortageCause:
    """Why not every demand is served: what lacks, or only that all were asked for at once."""
    found: list[Verdict] = []
    for group in groups([demand.requirement for demand in problem.demands]):
        known = _known(plan, group, reasons)
        if known == "unknown" and not deadline.passed:
            known = serve_all(subproblem(problem, group), deadline).verdict
        found.append(known)
        if found[-1] == "impossible" and not _restricted(reasons, group):
            return "blocks_missing"
    if "unknown" in found:
        return "undecided"
    return "restricted" if "impossible" in found else "wanted_at_once"


def _restricted(reasons: Mapping[int, Unmet], group: Sequence[int]) -> bool:
    """Whether only the request prevents every demand that cannot be built even alone."""
    unmet = [reasons[demand] for demand in group if demand in reasons]
    alone = [each for each in unmet if each.reason == "cannot_be_built"]
    return bool(alone) and all(each.remedies for each in alone)


def _known(plan: Plan, group: Sequence[int], reasons: Mapping[int, Unmet]) -> Verdict:
    """Whether the group can be served by itself, as far as that takes no search."""
    if all(plan[demand] is not None for demand in group):
        return "found"
    why = {reasons[demand].reason if demand in reasons else None for demand in group}
    if "cannot_be_built" in why:
        return "impossible"
    return "found" if len(group) == 1 and why == {"blocks_in_use"} else "unknown"
