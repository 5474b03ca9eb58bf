"""The best of many candidates: prices and cuts narrow them down until few are left.

What a choice costs above the proven bound is what its columns cost, priced, above the least of
their demands, and the price of all that it leaves unused. Within a small excess few columns are
left; CP-SAT gets that sum as a row of its own, by which each chosen column rules out others. The
excess allowed rises until a choice is found: all of less cost were ruled out before. (Route
enumeration: Baldacci, Christofides and Mingozzi, *Mathematical Programming* 115, 2008.)
"""

from collections.abc import Callable, Iterator

import numpy as np
from msgspec.structs import replace

from wrung.deadline import Deadline
from wrung.planning.candidates.quota import Quota
from wrung.planning.candidates.stock import Ints
from wrung.planning.candidates.walk import Candidates
from wrung.planning.candidates.workbench import Workbench
from wrung.planning.selection.choice import Choice, Selection, Usage, usages
from wrung.planning.selection.relaxing import SetPacking, relax
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
    blocks: int | None = None,
) -> Selection:
    """The least sum of costs of so many candidates side by side, if it is no more than ``most``.

    No choice costs less than ``least``, as far as is known, and costs are not negative. Where the
    verdict is ``impossible``, no choice costs ``most`` or less; where it is ``found``, a better one
    may. With ``blocks``, only choices of no more pieces count.
    """
    rows = [*usages(bench, candidates)]
    if blocks is not None:
        own = np.arange(len(candidates))
        rows.append(Usage(kind=-1, capacity=blocks, rows=own, times=candidates.counts))
    offered, demands = np.unique(candidates.demands, return_inverse=True)
    packing = SetPacking(costs=costs, demands=demands, served=served.of(offered), rows=rows)

    def choose(keep: Ints, limit: int) -> Choice:
        choice = Choice(bench, candidates.where(keep), served)
        choice.limit_sum(costs[keep], limit)
        if blocks is not None:
            choice.limit_sum(candidates.counts[keep], blocks)
        return choice

    return _Narrowing(packing, choose, most, least, deadline).run()


class _Narrowing:
    def __init__(
        self,
        packing: SetPacking,
        choose: Callable[[Ints, int], Choice],
        most: int,
        least: int,
        deadline: Deadline,
    ) -> None:
        self._packing, self._choose, self._deadline = packing, choose, deadline
        self._most = min(most, packing.dearest)
        self._relaxed = relax(packing, self._most, deadline)
        # Costs are whole numbers.
        self._low = max(least, -(-self._relaxed.bound // packing.scale))
        self._rows = np.zeros(0, np.int64)
        self._target = float(deadline.tuning.narrow_each * packing.served.total)

    def run(self) -> Selection:
        """Limits from the bound upwards; once a choice is known, just below it."""
        while self._low <= self._most:
            limit = self._most if len(self._rows) else self._limit(int(self._target))
            if self._deadline.passed or self._try(limit) == "unknown":
                return self._selection("found", "unknown")
        return self._selection("best", "impossible")

    def _limit(self, target: int) -> int:
        """A cost within which about so many candidates are left, within what is open."""
        above = np.sort(self._relaxed.above)[: target + 1]
        limit = (self._relaxed.bound + int(above[-1])) // self._packing.scale
        if limit < self._low and target >= len(above):
            # None is left to be let in, and costs are too many to go up one by one.
            return self._most
        return min(max(limit, self._low), self._most)

    def _try(self, limit: int) -> Verdict:
        excess = limit * self._packing.scale - self._relaxed.bound
        keep = np.flatnonzero(self._relaxed.above <= excess)
        self._target = self._deadline.tuning.wider * max(self._target, len(keep))
        choice = self._choose(keep, limit)
        choice.limit_excess(self._relaxed.above[keep], self._priced(keep), excess)
        found = choice.solve_any(self._deadline)
        if len(found.rows):
            self._rows = keep[found.rows]
            # Any other choice of interest costs less.
            self._most = int(self._packing.costs[self._rows].sum()) - 1
        if found.verdict == "impossible":
            self._low = limit + 1
        return found.verdict

    def _priced(self, keep: Ints) -> Iterator[tuple[Usage, int]]:
        """The rows that have a price, over these candidates."""
        place = np.full(len(self._packing.costs), -1)
        place[keep] = np.arange(len(keep))
        for row, price in zip(self._relaxed.rows, self._relaxed.prices, strict=True):
            if price:
                own = place[row.rows]
                yield replace(row, rows=own[own >= 0], times=row.times[own >= 0]), price

    def _selection(self, known: Verdict, none: Verdict) -> Selection:
        value = int(self._packing.costs[self._rows].sum())
        if not len(self._rows):
            return Selection(verdict=none, rows=self._rows, value=0, bound=self._low)
        return Selection(verdict=known, rows=self._rows, value=value, bound=min(self._low, value))
