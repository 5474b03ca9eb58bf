"""Simple proofs that demands cannot stand together, kept ready for many questions.

Every stack takes one of the patterns of fine pieces that its length asks for (see `fine`): demands
that are needed at one time and whose patterns do not fit side by side cannot all be served. Those
that pass may still not fit together.
"""

from bisect import bisect_left
from collections.abc import Collection, Sequence
from itertools import accumulate

from wrung.deadline import Deadline
from wrung.planning.building.fine import each_step
from wrung.planning.problem import Problem
from wrung.tuning import TUNING, Tuning


class Proofs:
    """What is proven without a search: never wrong, but it cannot prove everything."""

    def __init__(self, problem: Problem, tuning: Tuning = TUNING) -> None:
        self._problem = problem
        self._fine = each_step(problem, tuning)

    def served_at_most(self, alone: Sequence[int]) -> tuple[int, ...]:
        """By class, no plan that serves as many of those before it serves more.

        ``alone`` says how many of each class can be built at all.
        """
        found: list[int] = []
        # What the classes up to one take at most is no more than those up to the next do.
        up_to = list(accumulate(reversed(self._up_to_each()), min))[::-1]
        for own, most in zip(alone, up_to, strict=True):
            found.append(min(own, most - sum(found)))
        return tuple(found)

    def _up_to_each(self) -> list[int]:
        """By class, how many demands of the classes up to it can be served in all."""
        demands, cliques = self._problem.demands, self._problem.cliques
        found: list[int] = []
        for last in range(len(self._problem.priorities)):
            urgent = {k for k, each in enumerate(demands) if each.priority_class <= last}
            within = ([k for k in clique if k in urgent] for clique in cliques)
            found.append(len(urgent) - max(map(self._unserved, within), default=0))
        return found

    def conflict(self, demands: Collection[int]) -> bool:
        """Whether these demands are proven not to stand together."""
        together = {tuple(k for k in c if k in demands) for c in self._problem.cliques}
        return any(not fine.together(each) for fine in self._fine for each in together)

    def known_conflict(self, deadline: Deadline) -> tuple[int, ...] | None:
        """A conflict from which these proofs can remove no demand; None if they find none.

        After the deadline it is not reduced further.
        """
        found = (clique for clique in self._problem.cliques if self._unserved(clique))
        smallest_first = sorted(found, key=_by_size)[: deadline.tuning.most_thinned]
        thinned = [self._thinned(conflict, deadline) for conflict in smallest_first]
        return min(thinned, key=_by_size, default=None)

    def _unserved(self, together: Collection[int]) -> int:
        """At least this many of the demands that are needed at one time are not served."""
        packed = (len(together) - fine.packed(together) for fine in self._fine)
        return max(packed, default=0)

    def _thinned(self, conflict: tuple[int, ...], deadline: Deadline) -> tuple[int, ...]:
        # The first few often suffice; these are then thinned one by one.
        conflict = conflict[: self._shortest_start(conflict)]
        for demand in reversed(conflict):
            rest = tuple(k for k in conflict if k != demand)
            # What is not proven stays in: the conflict is then larger, but still one.
            if not deadline.passed and self.conflict(rest):
                conflict = rest
        return conflict

    def _shortest_start(self, conflict: tuple[int, ...]) -> int:
        """How many demands from the front already form a conflict."""
        counts = range(len(conflict))
        # More demands never undo a conflict, so halving finds where one begins.
        return bisect_left(counts, 1, key=lambda count: int(self.conflict(conflict[:count])))


def _by_size(demands: tuple[int, ...]) -> tuple[int, tuple[int, ...]]:
    return (len(demands), demands)
