"""The best of many candidates: prices narrow them down until few are left.

What a choice costs above the proven bound is what its columns cost, priced, above the least of
their demands, and the price of all that it leaves unused. Within a small excess few columns are
left, and branching finds the best choice of these. The excess allowed rises until there is one: all
of less cost were ruled out before. (Route enumeration: Baldacci, Christofides and Mingozzi,
*Mathematical Programming* 115, 2008.)
"""

import numpy as np

from wrung.deadline import Deadline
from wrung.planning.candidates.quota import Quota
from wrung.planning.candidates.stock import Ints
from wrung.planning.candidates.walk import Candidates
from wrung.planning.candidates.workbench import Workbench
from wrung.planning.selection.branching import Branching
from wrung.planning.selection.choice import Selection
from wrung.planning.selection.relaxing import PackingProgramme
from wrung.planning.selection.set_packing import SetPacking, relaxed, set_packing_of, with_row
from wrung.planning.solvers import Verdict


def least_choice(  # noqa: PLR0913 - the parts of one question
    bench: Workbench,
    candidates: Candidates,
    served: Quota,
    costs: Ints,
    *,
    most: int,
    deadline: Deadline,
    least: int = 0,
    ties: Ints | None = None,
    blocks: int | None = None,
) -> Selection:
    """The least sum of costs of so many candidates side by side, if it is no more than ``most``.

    No choice costs less than ``least``, as far as is known. Costs are not negative, nor ``ties``:
    of choices that cost as little, one of the least sum of these. Where the verdict is
    ``impossible``, no choice costs ``most`` or less; where it is ``found``, a better one may.
    With ``blocks``, only choices of no more pieces count.
    """
    none = np.zeros(0, np.int64)
    packing = set_packing_of(bench, candidates, served, costs, blocks)
    if packing is None or not packing.count:
        verdict: Verdict = "impossible" if packing is None or served.total else "best"
        return Selection(verdict=verdict, rows=none, value=0, bound=0)
    search = _Narrowing(packing, most, least, deadline)
    verdict, best = search.run(), search.best
    value = int(packing.costs[best].sum())
    if verdict == "best" and ties is not None:
        columns = search.root.within(value * packing.scale)
        sizes = np.append(ties, 0)[packing.candidates]
        verdict, best = _of_ties(packing, columns, best, sizes, deadline)
    rows = packing.candidates[best]
    return Selection(verdict=verdict, rows=rows[rows >= 0], value=value, bound=search.low)


def _of_ties(
    packing: SetPacking, columns: Ints, best: Ints, sizes: Ints, deadline: Deadline
) -> tuple[Verdict, Ints]:
    """Of the choices of these columns that cost as little as the best, one of the least size."""
    cost, verdict = int(packing.costs[best].sum()), "best"
    while verdict == "best" and (size := int(sizes[best].sum())):
        # Sizes as costs differ by too little to rule columns out: one request took forty times as
        # long.
        smaller = with_row(packing, columns, sizes, size - 1)
        search = _Narrowing(smaller, cost, cost, deadline)
        verdict = search.run()
        best = columns[search.best] if len(search.best) else best
    return "best" if verdict in ("best", "impossible") else "found", best


class _Narrowing:
    """Tries limits from the bound upwards.

    Attributes:
        root: what prices prove of all columns.
        low: no choice costs less.
        best: the columns of the best choice; empty until there is one.
    """

    def __init__(self, packing: SetPacking, most: int, least: int, deadline: Deadline) -> None:
        self._packing, self._deadline = packing, deadline
        self._most = min(most, packing.dearest)
        self._programme = PackingProgramme(packing, deadline)
        every = np.arange(len(packing.costs))
        prices = self._programme.prices(every, self._most * packing.scale)
        none = np.zeros_like(packing.capacities)
        self.root = relaxed(packing, every, none if prices is None else prices)
        # Costs are whole numbers.
        self.low = max(least, -(-self.root.bound // packing.scale))
        self.best = every[:0]
        self._target = deadline.tuning.narrow_each * packing.count

    def run(self) -> Verdict:
        """Until there is a choice within a limit, or none within the last; or the time is up."""
        verdict: Verdict = "impossible"
        while self.low <= self._most and verdict == "impossible":
            limit = self._limit(self._target)
            verdict = "unknown" if self._deadline.passed else self._try(limit)
        return verdict

    def _limit(self, target: int) -> int:
        """A cost within which about so many columns are left, within what is open."""
        above = np.sort(self.root.above)[: target + 1]
        limit = (self.root.bound + int(above[-1])) // self._packing.scale
        if limit < self.low and target >= len(above):
            # None is left to be let in, and costs are too many to go up one by one.
            return self._most
        return min(max(limit, self.low), self._most)

    def _try(self, limit: int) -> Verdict:
        left = len(self.root.within(limit * self._packing.scale))
        self._target = int(self._deadline.tuning.wider * max(self._target, left))
        search = Branching(self._packing, self._programme, limit, self._deadline)
        verdict = search.run(self.root)
        self.best = search.best
        if verdict == "impossible":
            self.low = limit + 1
        elif verdict == "best":
            self.low = int(self._packing.costs[self.best].sum())
        return verdict
