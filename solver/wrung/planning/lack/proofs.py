"""Simple proofs that demands cannot stand together, kept ready for many questions."""

from collections.abc import Collection

from wrung.planning.lack.needs import lacks
from wrung.planning.lack.places import places
from wrung.planning.parts import subproblem
from wrung.planning.problem import Problem


class Proofs:
    """What is proven without a search. It never errs, but there is much that it cannot prove."""

    def __init__(self, problem: Problem) -> None:
        self._problem = problem
        self._places = places(problem)

    def served_at_most(self) -> int:
        """No plan serves more demands than this."""
        unserved = [lack.unserved for lack in lacks(self._problem)]
        unserved += [
            len(crowd) - place.packed(crowd)
            for crowd in self._problem.crowds
            for place in self._places
        ]
        return len(self._problem.demands) - max(unserved, default=0)

    def conflict(self, demands: Collection[int]) -> bool:
        """Whether these demands are proven not to stand together."""
        return self._packing(demands) or bool(lacks(subproblem(self._problem, demands)))

    def _packing(self, demands: Collection[int]) -> bool:
        together = [[k for k in crowd if k in demands] for crowd in self._problem.crowds]
        return any(place.packed(d) < len(d) for d in together for place in self._places)

    def known_conflict(self) -> tuple[int, ...] | None:
        """A conflict from which no demand can be left out by these proofs; None if there is none.

        Of those that the rules name and of each crowd the smallest is thinned.
        """
        candidates = [lack.conflict for lack in lacks(self._problem)]
        candidates += [crowd for crowd in self._problem.crowds if self._packing(crowd)]
        thinned = [self._thinned(conflict) for conflict in candidates]
        return min(thinned, key=lambda conflict: (len(conflict), conflict), default=None)

    def _thinned(self, conflict: tuple[int, ...]) -> tuple[int, ...]:
        for demand in reversed(conflict):
            rest = tuple(k for k in conflict if k != demand)
            if self.conflict(rest):
                conflict = rest
        return conflict
