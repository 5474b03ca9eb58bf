"""Why not every demand is served, and what would help."""

from collections.abc import Sequence

from wrung.answers import ScarceBlock, Shortage, ShortageCause, Wanted
from wrung.deadline import Deadline
from wrung.planning.finding import Plan
from wrung.planning.parts import contended
from wrung.planning.problem import Problem
from wrung.planning.shortage.additions import additions
from wrung.planning.shortage.conflict import Conflict, find_conflict
from wrung.planning.shortage.scarce import scarce_blocks


def shortage(  # noqa: PLR0913, PLR0917 -- what the search and the reasons have shown
    problem: Problem,
    plan: Plan,
    unbuildable: Sequence[int],
    most_served: int,
    why: ShortageCause,
    deadline: Deadline,
) -> Shortage | None:
    """Scarce blocks, a smallest set of demands in conflict, and blocks that would serve all.

    Args:
        problem: the problem.
        plan: what is served; some demand is not.
        unbuildable: demands that are proven to be out of reach even alone, ascending.
        most_served: no plan serves more demands.
        why: whether that is because all were asked for at once.
        deadline: for the whole.

    Returns:
        None where nothing was proven before the deadline.
    """
    scarce: tuple[ScarceBlock, ...] = ()
    add: tuple[Wanted, ...] = ()
    conflict: Conflict | None = None
    if not deadline.passed:
        share = deadline.share(deadline.tuning.share_for_scarce)
        scarce = scarce_blocks(problem, plan, most_served, share)
        share = deadline.share(deadline.tuning.share_for_additions)
        add = () if problem.signed else additions(problem, plan, share)
        if unbuildable:
            conflict = Conflict(demands=(unbuildable[0],), smallest=True)
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
        blocks_to_add=add,
        scarce_blocks=scarce,
    )
