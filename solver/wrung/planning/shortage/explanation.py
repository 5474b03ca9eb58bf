"""Why not every demand is served, and what would help."""

from collections.abc import Sequence
from datetime import datetime

from wrung.answers import Shortage, ShortageCause, Wanted
from wrung.deadline import Deadline
from wrung.planning.finding import Plan
from wrung.planning.problem import Problem
from wrung.planning.shortage.additions import additions
from wrung.planning.shortage.conflict import Conflict, find_conflict


def shortage(  # noqa: PLR0913, PLR0917 -- what the search and the reasons have shown
    problem: Problem,
    plan: Plan,
    unbuildable: Sequence[int],
    most_served: int,
    why: ShortageCause,
    deadline: Deadline,
) -> Shortage | None:
    """A smallest set of demands that cannot stand together, and blocks that would serve all.

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
    if deadline.passed:
        return None if why == "undecided" else _unexplained(why)
    share = deadline.share(deadline.tuning.share_for_additions)
    add = () if problem.signed else additions(problem, plan, share)
    if unbuildable:
        conflict: Conflict | None = Conflict(demands=(unbuildable[0],), smallest=True)
    elif deadline.passed:
        conflict = None
    else:
        conflict = find_conflict(problem, plan, most_served, deadline)
    if conflict is None:
        return None if why == "undecided" else _unexplained(why, add)
    contended_from, contended_until = _contended(problem, conflict.demands)
    return Shortage(
        cause=why,
        contended_from=contended_from,
        contended_until=contended_until,
        conflict=tuple(problem.demands[k].requirement.name for k in conflict.demands),
        smallest_conflict_proven=conflict.smallest,
        blocks_to_add=add,
    )


def _contended(problem: Problem, demands: Sequence[int]) -> tuple[datetime | None, datetime | None]:
    """The time in which all of them are needed, where there is one; None where it is open."""
    alone = len(demands) == 1
    if alone or not any(set(demands).issubset(clique) for clique in problem.cliques):
        return None, None
    wanted = [problem.demands[demand].requirement for demand in demands]
    starts = [each.needed_from for each in wanted if each.needed_from is not None]
    ends = [each.needed_until for each in wanted if each.needed_until is not None]
    return max(starts, default=None), min(ends, default=None)


def _unexplained(why: ShortageCause, add: tuple[Wanted, ...] = ()) -> Shortage:
    return Shortage(cause=why, conflict=(), smallest_conflict_proven=False, blocks_to_add=add)
