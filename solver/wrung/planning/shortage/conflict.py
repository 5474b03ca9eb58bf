"""A smallest set of demands that cannot stand together.

A conflict is smallest if every set with one demand fewer can stand, as every part of such a set can
stand too. So all sets of one demand, then of two and so on are shown to stand, until one does not.
A plan shows it for all sets of demands it serves, so few plans settle most sets. Where simple
proofs know of a conflict, the size just below it is checked early: usually all of these stand.
Where that takes too long, a known conflict is thinned by leaving out one after another.
"""

from collections.abc import Iterator, Sequence
from itertools import combinations
from math import comb

import numpy as np
from msgspec import Struct

from wrung.deadline import Deadline
from wrung.planning.building.proofs import Proofs
from wrung.planning.finding import Plan
from wrung.planning.problem import Problem
from wrung.planning.shortage.standing import Standing
from wrung.planning.solvers import Verdict


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
    count = len(problem.demands)
    known = proofs.known_conflict(deadline)
    if known is not None:
        sizes = range(1, len(known))
        order = [
            *sizes[: deadline.tuning.conflict_sizes_first],
            *sizes[deadline.tuning.conflict_sizes_first :][-1:],
            *sizes[deadline.tuning.conflict_sizes_first : -1],
        ]
        return _smallest(_Sets(standing, count, deadline), known, order)
    # Where not all can be served, all together are a conflict.
    known = tuple(range(count)) if most_served < count else None
    sets = _Sets(standing, count, deadline.share(deadline.tuning.share_for_smallest))
    found = _smallest(sets, known, range(1, count if known else count + 1))
    if found is None or found.smallest or known is None:
        return found
    return Conflict(demands=_thinned(standing, known, deadline), smallest=False)


class _Sets:
    """Asks for all sets of a size whether they stand."""

    def __init__(self, standing: Standing, count: int, deadline: Deadline) -> None:
        self._standing = standing
        self._count = count
        self._deadline = deadline
        self._tries = deadline.tuning.most_sets_tried

    def judged(self, size: int) -> tuple[Verdict, tuple[int, ...]]:
        """The first verdict on a set of that size that is not "found", and the set."""
        if comb(self._count, size) > self._deadline.tuning.most_sets:
            return "unknown", ()
        for demands in self._unknown(size):
            if not self._tries or self._deadline.passed:
                return "unknown", demands
            self._tries -= 1
            verdict = self._standing.verdict(demands, self._deadline)
            if verdict != "found":
                return verdict, demands
        return "found", ()

    def _unknown(self, size: int) -> Iterator[tuple[int, ...]]:
        """The sets that no known plan serves, one after another, while more plans become known."""
        sets = np.array(list(combinations(range(self._count), size)), dtype=np.int16)
        plans = self._standing.plans
        seen = 0
        while True:
            for plan in plans[seen:]:
                served = np.zeros(self._count, dtype=np.bool_)
                served[list(plan.served)] = True
                sets = sets[~served[sets].all(axis=1)]
            seen = len(plans)
            if not len(sets):
                return
            yield tuple(sets[0].tolist())


def _smallest(sets: _Sets, known: tuple[int, ...] | None, order: Sequence[int]) -> Conflict | None:
    """A smallest conflict; else the smallest that is known, if any.

    Args:
        sets: what is asked.
        known: a conflict.
        order: all sizes below it, in the order in which they are asked for.
    """
    # Up to this size all sets stand.
    stand = 0
    for size in order:
        if known is not None and stand + 1 == len(known):
            break
        verdict, demands = sets.judged(size)
        if verdict == "unknown":
            break
        if verdict == "found":
            stand = size
        else:
            known = demands
    return None if known is None else Conflict(demands=known, smallest=stand + 1 == len(known))


def _thinned(standing: Standing, known: tuple[int, ...], deadline: Deadline) -> tuple[int, ...]:
    for demand in reversed(known):
        rest = tuple(k for k in known if k != demand)
        if standing.verdict(rest, deadline) == "impossible":
            known = rest
    return known
