"""A smallest set of demands that cannot stand together.

A conflict is smallest if every set with one demand fewer can stand, as every part of such a set can
stand too. So all sets of one demand, then of two and so on are shown to stand, until one does not.
A plan shows it for all sets of demands it serves, so few plans settle most sets. Where simple
proofs know of a conflict, the size just below it is checked early: usually all of these stand.
Where that takes too long, a known conflict is thinned by leaving out one after another.
"""

from collections.abc import Sequence

from msgspec import Struct

from wrung.deadline import Deadline
from wrung.planning.building.proofs import Proofs, thinned
from wrung.planning.finding import Plan
from wrung.planning.problem import Problem
from wrung.planning.shortage.standing import Standing


class Conflict(Struct, frozen=True, kw_only=True):
    """Demands that cannot all be served, ascending; ``smallest`` if no smaller set conflicts."""

    demands: tuple[int, ...]
    smallest: bool


def find_conflict(
    problem: Problem, plan: Plan, most_served: int, deadline: Deadline
) -> Conflict | None:
    """A conflict, as small as can be found before the deadline; None if none is proven.

    Args:
        problem: its demands can each be built alone.
        plan: what is served as yet.
        most_served: no plan serves more demands.
        deadline: for the whole.
    """
    proofs = Proofs(problem, deadline.tuning)
    standing = Standing(problem, plan, proofs, deadline.tuning)
    everyone = tuple(range(len(problem.demands)))
    counted = proofs.known_conflict(deadline)
    # Where not all can be served, all together are a conflict.
    known = counted or (everyone if most_served < len(everyone) else None)
    sizes = [*range(1, len(known) if known else len(everyone) + 1)]
    first, share = deadline.tuning.conflict_sizes_first, deadline.tuning.share_for_smallest
    if counted:
        sizes, share = [*sizes[:first], *sizes[first:][-1:], *sizes[first:-1]], 1
    found = _smallest(standing, known, sizes, deadline.share(share))
    if found is None or found.smallest or known is None or counted:
        return found
    fewer = thinned(known, lambda rest: standing.verdict(rest, deadline) == "impossible")
    return Conflict(demands=fewer, smallest=False)


def _smallest(
    standing: Standing, known: tuple[int, ...] | None, order: Sequence[int], deadline: Deadline
) -> Conflict | None:
    """A smallest conflict; else the smallest that is known, if any.

    Args:
        standing: what is asked.
        known: a conflict.
        order: all sizes below it, in the order in which they are asked for.
        deadline: for the whole.
    """
    # Up to this size all sets stand.
    stand = 0
    for size in order:
        if known is not None and stand + 1 == len(known):
            break
        verdict, demands = standing.first_of_size(size, deadline)
        if verdict == "unknown":
            break
        if verdict == "found":
            stand = size
        else:
            known = demands
    return None if known is None else Conflict(demands=known, smallest=stand + 1 == len(known))
