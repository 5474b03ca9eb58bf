"""The least choice within a limit, by branch and bound.

Each column of one demand, or of a row that no choice within the limit leaves unused, is chosen in
turn. The few others that fit beside it are priced anew, which bounds what they cost, and those
whose reduced cost exceeds the gap are ruled out. (Branch and bound: Land and Doig, *Econometrica*
28, 1960; that reduced costs rule columns out: Dantzig, Fulkerson and Johnson, *Operations Research*
2, 1954; both from memory.)
"""

from collections.abc import Iterator

import numpy as np

from wrung.deadline import Deadline
from wrung.planning.candidates.stock import Ints
from wrung.planning.selection.relaxing import PackingProgramme
from wrung.planning.selection.set_packing import Relaxed, SetPacking, relaxed
from wrung.planning.solvers import Verdict


class Branching:
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
        levels = [self._below(root)]
        while levels and not self._deadline.passed:
            node = next(levels[-1], None)
            if node is None:
                levels.pop()
            else:
                levels.append(self._below(node))
        if levels:
            return "found" if len(self.best) else "unknown"
        return "best" if len(self.best) else "impossible"

    def _below(self, node: Relaxed) -> Iterator[Relaxed]:
        # Since it was put aside, something better may have been found.
        columns = self._fitting(node.within(self._limit))
        if columns is None:
            return
        if len(columns) == self._packing.count:
            self._take(columns)
            return
        found: list[Relaxed] = []
        for own in self._alternatives(columns, node):
            if self._deadline.passed:
                return
            found += self._opened(own, node.prices)
        yield from sorted(found, key=lambda each: each.bound)

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
