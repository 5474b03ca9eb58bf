"""The best choice within a limit, by branching: prices of linear programmes bound each node.

Where few columns are left for a demand, or of a row that a choice cannot leave unused, each of
them is chosen in turn. The others that fit beside it are few, and so is what the prices of a small
programme over them leave. (Node and bound: Land and Doig, *Econometrica* 28, 1960; ruling out
columns by reduced cost: Dantzig, Fulkerson and Johnson, *Operations Research* 2, 1954; both from
memory.)
"""

import math
from collections.abc import Iterator

import numpy as np

from wrung.deadline import Deadline
from wrung.planning.candidates.stock import Ints
from wrung.planning.selection.node import Node, PricedNode, priced, priced_anew, whole
from wrung.planning.selection.pairs import fitting
from wrung.planning.selection.set_packing import SetPacking
from wrung.planning.solvers import Verdict
from wrung.tuning import Tuning


def branches_can(packing: SetPacking, columns: Ints, tuning: Tuning) -> bool:
    """Whether there are few enough of these columns to node on."""
    return len(columns) * len(packing.rows) <= tuning.branch_cells


def best_within(
    packing: SetPacking, columns: Ints, limit: int, deadline: Deadline, branches: float = math.inf
) -> tuple[Verdict, Ints]:
    """The best choice of these columns that costs no more than the limit: its columns.

    After so many ``branches`` it ends with what it has found, and where `branches_can` do nothing,
    at once. It keeps to the rows of the packing only: measurements show that cuts slow the
    programmes down more than they save in branches.
    """
    search = _Search(packing, limit, deadline, branches)
    if not branches_can(packing, columns, deadline.tuning):
        return "unknown", search.best
    first = whole(packing, columns)
    if first is not None:
        search.run(first)
    return search.verdict(), search.best


class _Search:
    def __init__(
        self, packing: SetPacking, limit: int, deadline: Deadline, branches: float
    ) -> None:
        self._packing = packing
        self._limit = limit * packing.scale
        self._deadline = deadline
        self._branches = branches
        self.best = np.zeros(0, np.int64)

    def verdict(self) -> Verdict:
        if self._over:
            return "found" if len(self.best) else "unknown"
        return "best" if len(self.best) else "impossible"

    @property
    def _over(self) -> bool:
        return self._branches <= 0 or self._deadline.passed

    def run(self, first: Node) -> None:
        """Depth first, until nothing is open or the time is up."""
        levels = [iter(self._opened(first, np.zeros(len(first.left), np.int64)))]
        while levels and not self._over:
            said = next(levels[-1], None)
            if said is None:
                levels.pop()
            else:
                levels.append(self._below(said))

    def _below(self, said: PricedNode) -> Iterator[PricedNode]:
        """The smaller branches in which there may be something better, the most likely first."""
        # Something better may have been found since it was put aside.
        part = said.within(self._limit)
        if part is None:
            return
        found: list[PricedNode] = []
        for place in self._alternatives(part).tolist():
            if self._over:
                return
            node = part.node.choose(place)
            found += [] if node is None else self._opened(node, part.prices)
        yield from sorted(found, key=lambda new: new.bound)

    def _opened(self, node: Node, prices: Ints) -> list[PricedNode]:
        """What is to be looked at within a node, if there is anything."""
        if not node.open:
            self._take(node)
            return []
        self._branches -= 1
        rows = node.short()
        # The prices of the parent node already give a bound.
        said = priced(node.of_rows(rows), prices[rows]).within(self._limit)
        if said is not None and len(said.above) <= self._deadline.tuning.columns_in_pairs:
            said = fitting(said, self._limit)
        if said is not None and len(said.above) > self._deadline.tuning.columns_as_they_are:
            said = priced_anew(said, self._limit, self._deadline).within(self._limit)
        return [] if said is None else [said]

    def _take(self, node: Node) -> None:
        if node.paid > self._limit:
            return
        chosen = np.array([column for column in node.chosen if column >= 0], np.int64)
        # One that costs nothing may have been chosen where none was needed.
        cheapest = np.argsort(self._packing.costs[chosen], kind="stable")
        chosen = chosen[cheapest]
        self.best = np.concatenate(
            [
                chosen[np.isin(self._packing.demands[chosen], own)][:n]
                for own, n in self._packing.quota.parts()
            ]
        )
        # All costs are multiples of the scale.
        self._limit = node.paid - self._packing.scale

    def _alternatives(self, part: PricedNode) -> Ints:
        """Columns one of which is chosen: as few as there are."""
        node = part.node
        sizes = np.bincount(node.demands)
        demand = int(np.argmin(sizes))
        # Leaving these rows unused costs more than is allowed.
        needed = (part.prices > self._limit - part.bound) & (node.left == 1)
        users = np.count_nonzero(node.table[needed], axis=1)
        if len(users) and users.min() < sizes[demand]:
            return np.flatnonzero(node.table[needed][np.argmin(users)])
        return np.flatnonzero(node.demands == demand)
