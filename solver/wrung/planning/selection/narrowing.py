"""The best of many candidates: prices narrow them down to a few, and these are branched on.

What a choice costs above the proven bound is what its columns cost, priced, above the least of
their demands, and the price of all that it leaves unused. Within a small excess few columns are
left. The excess allowed rises until there is a choice: all of less cost were ruled out before.
(Route enumeration: Baldacci, Christofides and Mingozzi, *Mathematical Programming* 115, 2008.)

Of the columns left, each of one demand, or of a row that no choice within the limit leaves unused,
is chosen in turn. The few others that fit beside it are priced anew, which bounds what they cost,
and those whose reduced cost exceeds the gap are ruled out. (Branch and bound: Land and Doig,
*Econometrica* 28, 1960; that reduced costs rule columns out: Dantzig, Fulkerson and Johnson,
*Operations Research* 2, 1954; both from memory.)
"""

from collections.abc import Iterator

import numpy as np
from msgspec.structs import replace

from wrung.deadline import Deadline
from wrung.planning.candidates.quota import Quota
from wrung.planning.candidates.stock import Ints
from wrung.planning.candidates.walk import Candidates
from wrung.planning.candidates.workbench import Workbench
from wrung.planning.selection.choice import Selection, none_chosen
from wrung.planning.selection.set_packing import (
    PackingProgramme,
    Relaxed,
    SetPacking,
    relaxed,
    set_packing_of,
)
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
    fewest: bool = False,
    blocks: int | None = None,
) -> Selection:
    """The least sum of costs of so many candidates side by side, if it is no more than ``most``.

    They may be more where that costs no more: costs are not negative. No choice costs less than
    ``least``, as far as is known. Of choices that cost as little, one of the ``fewest`` pieces may
    be asked for, if candidates have any. Where the verdict is ``impossible``, no choice costs
    ``most`` or less; where it is ``found``, a better one may. With ``blocks``, only choices of no
    more pieces count.
    """
    packing = set_packing_of(bench, candidates, served, costs, blocks)
    if packing is None or not packing.count:
        return none_chosen("impossible" if packing is None or served.total else "best")
    search = _Narrowing(packing, most, least, deadline)
    verdict, rows = search.run(), packing.chosen(search.best)
    value = int(costs[rows].sum())
    found = Selection(verdict=verdict, rows=rows, value=value, bound=search.low)
    if verdict != "best" or not fewest:
        return found
    # Blocks as costs differ by too little to rule columns out: one request took forty times as
    # long. So a choice of fewer is asked for.
    within = packing.chosen(search.root.within(value * packing.scale))
    fewer = least_choice(
        bench,
        candidates.where(within),
        served,
        costs[within],
        most=value,
        least=value,
        deadline=deadline,
        fewest=True,
        blocks=int(candidates.counts[rows].sum()) - 1,
    )
    if len(fewer.rows):
        return replace(fewer, rows=within[fewer.rows])
    return found if fewer.verdict == "impossible" else replace(found, verdict="found")


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
            limit = self._limit()
            verdict = "unknown" if self._deadline.passed else self._try(limit)
        return verdict

    def _limit(self) -> int:
        """A cost within which about as many columns are left as are aimed at, of those open."""
        above = np.sort(self.root.above)[: self._target + 1]
        limit = (self.root.bound + int(above[-1])) // self._packing.scale
        if limit < self.low and self._target >= len(above):
            # None is left to be let in, and costs are too many to go up one by one.
            return self._most
        return min(max(limit, self.low), self._most)

    def _try(self, limit: int) -> Verdict:
        left = len(self.root.within(limit * self._packing.scale))
        self._target = int(self._deadline.tuning.wider * max(self._target, left))
        search = _Branching(self._packing, self._programme, limit, self._deadline)
        verdict = search.run(self.root)
        self.best = search.best
        if verdict == "impossible":
            self.low = limit + 1
        elif verdict == "best":
            self.low = int(self._packing.costs[self.best].sum())
        return verdict


class _Branching:
    """Depth first, the most promising node first.

    Attributes:
        best: the columns of the best choice so far; empty until there is one.
    """

    def __init__(
        self, packing: SetPacking, programme: PackingProgramme, limit: int, deadline: Deadline
    ) -> None:
        self._packing, self._programme, self._deadline = packing, programme, deadline
        self._limit = limit * packing.scale
        self.best = np.zeros(0, np.int64)

    def run(self, root: Relaxed) -> Verdict:
        """Until nothing is open or the time is up."""
        if self._searched(root):
            return "best" if len(self.best) else "impossible"
        return "found" if len(self.best) else "unknown"

    def _searched(self, node: Relaxed) -> bool:
        """Whether all of it was, before the time was up."""
        # Since it was put aside, something better may have been found.
        columns = self._fitting(node.within(self._limit))
        if columns is None:
            return True
        if len(columns) == self._packing.count:
            self._take(columns)
            return True
        found: list[Relaxed] = []
        for own in self._alternatives(columns, node):
            if self._deadline.passed:
                return False
            found += self._opened(own, node.prices)
        return all(map(self._searched, sorted(found, key=lambda each: each.bound)))

    def _opened(self, columns: Ints, prices: Ints) -> list[Relaxed]:
        """A node of these columns, if it may hold something better."""
        packing, own = self._packing, self._fitting(columns)
        if own is None:
            return []
        # Its parent's prices already say something, but for rows that are no longer short.
        node = relaxed(packing, own, np.where(packing.short(own), prices, 0))
        own = self._fitting(node.within(self._limit))
        if own is None:
            return []
        if len(own) - packing.count > self._deadline.tuning.columns_as_they_are:
            anew = self._programme.prices(own, self._limit)
            prices = prices if anew is None else anew
        node = relaxed(packing, own, prices)
        return [node] if node.bound <= self._limit else []

    def _fitting(self, columns: Ints) -> Ints | None:
        """Those that fit beside the only columns of demands; None if a demand is left with none."""
        packing = self._packing
        while True:
            demands = packing.demands[columns]
            sizes = np.bincount(demands, minlength=packing.count)
            if not sizes.all():
                return None
            only = sizes[demands] == 1
            left = packing.capacities - packing.used(columns[only])
            if (left < 0).any():
                return None
            fit = (packing.times[columns] <= left[packing.rows[columns]]).all(axis=1) | only
            if fit.all():
                return columns
            columns = columns[fit]

    def _take(self, columns: Ints) -> None:
        cost = self._packing.scale * int(self._packing.costs[columns].sum())
        if cost <= self._limit:
            self.best = columns
            # All costs are multiples of the scale.
            self._limit = cost - self._packing.scale

    def _alternatives(self, columns: Ints, node: Relaxed) -> Iterator[Ints]:
        """What is left where each column of a demand, or of a row, is chosen in turn."""
        demands = self._packing.demands[columns]
        for column in self._one_of(columns, node).tolist():
            other = demands != self._packing.demands[column]
            yield columns[other | (columns == column)]

    def _one_of(self, columns: Ints, node: Relaxed) -> Ints:
        """Columns one of which is chosen, as few as there are."""
        packing, demands = self._packing, self._packing.demands[columns]
        sizes = np.bincount(demands)[demands]
        several = columns[sizes > 1]
        fewest = int(sizes[sizes > 1].min())
        left = packing.capacities - packing.used(columns[sizes == 1])
        # Leaving these rows unused costs more than is allowed.
        needed = np.flatnonzero((node.prices > self._limit - node.bound) & (left == 1))
        rows = packing.rows[several]
        users = np.bincount(rows.ravel() % len(left), minlength=len(left))[needed]
        if users.min(initial=fewest) < fewest:
            row: Ints = several[(rows == needed[np.argmin(users)]).any(axis=1)]
            return row
        demand: Ints = columns[demands == demands[np.argmax(sizes == fewest)]]
        return demand
