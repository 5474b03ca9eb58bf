"""A smallest set of demands that cannot stand together.

A conflict is smallest if every set with one demand fewer can stand, as every part of such a set can
stand too. So all sets of one demand, then of two and so on are shown to stand, until one does not.
A plan shows it for all sets of demands it serves, so few plans settle most sets. Where simple
proofs know of a conflict, the size just below it is checked early: usually all of these stand.
Where that takes too long, a known conflict is thinned by leaving out one after another.
"""

from collections.abc import Collection, Iterator, Sequence
from itertools import combinations
from math import comb

import numpy as np
from msgspec import Struct

from wrung.deadline import Deadline
from wrung.planning.building.proofs import Proofs, thinned
from wrung.planning.building.stacking import Held, Stacking, as_held
from wrung.planning.engines import serve_all
from wrung.planning.finding import Plan
from wrung.planning.parts import spread, subproblem
from wrung.planning.problem import Problem
from wrung.planning.solvers import Verdict
from wrung.tuning import TUNING, Tuning


class Conflict(Struct, frozen=True, kw_only=True):
    """Demands that cannot all be served, ascending; ``smallest`` if no smaller set conflicts."""

    demands: tuple[int, ...]
    smallest: bool


class Standing:
    """Whether some demands can stand together, remembered from question to question.

    It answers from what it knows, by simple proofs, by rebuilding a plan, and finally by search.

    Attributes:
        proofs: the simple ones.
        plans: those that are known.
    """

    def __init__(self, problem: Problem, plan: Plan, tuning: Tuning = TUNING) -> None:
        self._tuning = tuning
        self._problem = problem
        self.proofs = Proofs(problem, tuning)
        self._stacking = Stacking(problem, tuning.effort_of_standing, tuning)
        self._tries = tuning.most_sets_tried
        self.plans: list[Held] = [as_held(plan)]
        # By plan and demand, whether it has a stack.
        self._served = np.array([[stack is not None for stack in plan]])

    def first_of_size(self, size: int, deadline: Deadline) -> tuple[Verdict, tuple[int, ...]]:
        """The first verdict on a set of so many demands that is not "found", and the set."""
        if comb(len(self._problem.demands), size) > self._tuning.most_sets:
            return "unknown", ()
        for demands in self._unknown(size):
            if not self._tries or deadline.passed:
                return "unknown", demands
            self._tries -= 1
            verdict = self.verdict(demands, deadline)
            if verdict != "found":
                return verdict, demands
        return "found", ()

    def _unknown(self, size: int) -> Iterator[tuple[int, ...]]:
        """The sets that no known plan serves, one after another, while more plans become known."""
        count, seen = len(self._problem.demands), 0
        sets = np.array(list(combinations(range(count), size)), dtype=np.int16)
        while True:
            for served in self._served[seen:]:
                sets = sets[~served[sets].all(axis=1)]
            seen = len(self.plans)
            if not len(sets):
                return
            yield tuple(sets[0].tolist())

    def verdict(self, demands: Collection[int], deadline: Deadline) -> Verdict:
        """Whether one plan serves all of these: if ``found``, it is the last of `plans`."""
        served = self._served[:, [*demands]].sum(axis=1)
        if served.max() == len(demands):
            return "found"
        if self.proofs.conflict(demands, deadline):
            return "impossible"
        closest: list[int] = np.argsort(-served, kind="stable").tolist()
        for place in closest[: self._tuning.plans_rebuilt]:
            rebuilt = self._rebuilt(self.plans[place], demands, deadline)
            if rebuilt is not None:
                self._remember(rebuilt, deadline)
                return "found"
        return self._searched(demands, deadline)

    def _searched(self, demands: Collection[int], deadline: Deadline) -> Verdict:
        if deadline.passed or self._stacking.effort <= 0:
            return "unknown"
        # A flat charge, as the time that a search takes differs from machine to machine.
        self._stacking.effort -= deadline.tuning.effort_of_a_search
        found = serve_all(subproblem(self._problem, demands), deadline)
        if found.plan is not None:
            whole = spread(found.plan, demands, len(self._problem.demands))
            self._remember(as_held(whole), deadline)
        return found.verdict

    def _remember(self, held: Held, deadline: Deadline) -> None:
        """Remember the plan with all served that it leaves room for."""
        often: list[int] = self._served.sum(axis=0).tolist()
        # First those that few plans serve, so that few plans settle many sets.
        for demand in sorted(range(len(held)), key=lambda k: (often[k], k)):
            if not held[demand]:
                held = self._stacking.with_stack(held, demand, deadline) or held
        self.plans.append(held)
        self._served = np.vstack([self._served, [mask > 0 for mask in held]])

    def _rebuilt(self, plan: Held, demands: Collection[int], deadline: Deadline) -> Held | None:
        """A plan of these demands that keeps the stacks it can, or None if none is found so."""
        kept = tuple(mask if k in demands else 0 for k, mask in enumerate(plan))
        for demand in sorted(demands):
            if not kept[demand]:
                changed = self._stacking.with_one_more(kept, demand, deadline)
                if changed is None:
                    return None
                kept = changed
        return kept


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
    standing = Standing(problem, plan, deadline.tuning)
    everyone = tuple(range(len(problem.demands)))
    counted = standing.proofs.known_conflict(deadline)
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
