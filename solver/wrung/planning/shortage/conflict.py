"""A smallest set of demands that cannot stand together.

Every set of one demand, then of two, of three and so on is shown to stand, until one is not: then
no smaller conflict exists. A plan shows it for all sets of demands it serves, so few plans settle
most sets. Where that takes too long, a known conflict is thinned by leaving out one after another.
"""

from itertools import combinations, takewhile
from math import comb
from typing import Final

from msgspec import Struct

from wrung.planning.deadline import Deadline
from wrung.planning.finding import Plan
from wrung.planning.problem import Problem
from wrung.planning.shortage.proofs import Proofs
from wrung.planning.shortage.standing import Standing

# Bounds on effort that, unlike time, are the same on every machine.
_MOST_SETS: Final = 100_000
_MOST_TRIES: Final = 250

_SHARE: Final = 0.6
"""Of the time for the proof of the smallest size, where the rest may be needed for thinning."""


class Conflict(Struct, frozen=True, kw_only=True):
    """Demands that cannot all be served, ascending; ``smallest`` if no smaller set conflicts."""

    demands: tuple[int, ...]
    smallest: bool


def find_conflict(
    problem: Problem, plan: Plan, most_served: int, deadline: Deadline
) -> Conflict | None:
    """A conflict, as small as can be had before the deadline; None if none is proven.

    Args:
        problem: its demands can each be built alone.
        plan: what is served as yet.
        most_served: no plan serves more demands.
        deadline: for the whole.
    """
    proofs = Proofs(problem)
    standing = Standing(problem, plan, proofs)
    count = len(problem.demands)
    known = proofs.known_conflict(deadline)
    if known is not None:
        found = _smallest(standing, count, known, deadline)
        return found or Conflict(demands=known, smallest=False)
    # Where not all can be served, all together are a conflict.
    known = tuple(range(count)) if most_served < count else None
    found = _smallest(standing, count, known, deadline.share(_SHARE))
    if found is not None or known is None:
        return found
    return Conflict(demands=_thinned(standing, known, deadline), smallest=False)


def _smallest(
    standing: Standing, count: int, known: tuple[int, ...] | None, deadline: Deadline
) -> Conflict | None:
    """The first set that cannot stand, of fewer demands than the known conflict, or that one."""
    sizes = range(1, len(known) if known else count + 1)
    tried = list(takewhile(lambda size: comb(count, size) <= _MOST_SETS, sizes))
    sets = (demands for size in tried for demands in combinations(range(count), size))
    for turn, demands in enumerate(d for d in sets if not standing.known(d)):
        if turn == _MOST_TRIES or deadline.passed:
            return None
        verdict = standing.verdict(demands, deadline)
        # With a set left undecided, no larger one can be called the smallest.
        if verdict != "stand":
            return Conflict(demands=demands, smallest=True) if verdict == "conflict" else None
    return Conflict(demands=known, smallest=True) if known and len(tried) == len(sizes) else None


def _thinned(standing: Standing, known: tuple[int, ...], deadline: Deadline) -> tuple[int, ...]:
    for demand in reversed(known):
        rest = tuple(k for k in known if k != demand)
        if not standing.known(rest) and standing.verdict(rest, deadline) == "conflict":
            known = rest
    return known
