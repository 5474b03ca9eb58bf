"""Prices of what candidates share, with cuts added as rows until they no longer help.

For any prices, no choice costs less than its candidates priced one by one, less the prices of all
that there is (Lagrangian relaxation, as in `pricing.prices`). Only whole numbers take part in that,
whatever the prices come from.
"""

from collections.abc import Sequence
from typing import Final

import numpy as np
from msgspec import Struct

from wrung.deadline import Deadline
from wrung.planning.candidates.quota import Quota
from wrung.planning.candidates.stock import NEVER, Ints
from wrung.planning.candidates.walk import first_rows
from wrung.planning.selection.choice import Usage
from wrung.planning.selection.cuts import broken_triples, cuts_of
from wrung.planning.selection.programme import Floats, Programme

_NOTHING: Final = 1e-6
_LARGEST: Final = 1 << 32
"""The largest priced sum."""
_HIGHEST: Final = 1 << 50


class SetPacking(Struct, frozen=True, kw_only=True):
    """Candidates of which so many are to be chosen, at most one for each demand, at least cost.

    Attributes:
        costs: of each, not negative.
        demands: of each.
        served: how many demands are.
        rows: what several of them use.
    """

    costs: Ints
    demands: Ints
    served: Quota
    rows: Sequence[Usage]

    @property
    def dearest(self) -> int:
        """No choice costs more."""
        most = np.zeros(len(self.served.classes), np.int64)
        np.maximum.at(most, self.demands, self.costs)
        return -self.served.least_sum(-most)

    @property
    def scale(self) -> int:
        """Prices are whole fractions of a cost, so many to one."""
        dearest = (int(self.costs.max(initial=0)) + 1) * (self.served.total + 1)
        return max(_LARGEST // dearest, 1)


class Relaxed(Struct, frozen=True, kw_only=True):
    """What prices prove; costs times the scale of the packing.

    What a choice costs above the bound is what its candidates cost above the least of their
    demands, and the prices of what it leaves unused of the rows.

    Attributes:
        rows: those of the packing, then cuts.
        prices: of the rows.
        above: by candidate, what it costs, priced, above the least of its demand.
        bound: no choice costs less; `NEVER` where there is none.
    """

    rows: Sequence[Usage]
    prices: Sequence[int]
    above: Ints
    bound: int


def relaxed(packing: SetPacking, rows: Sequence[Usage], prices: Sequence[int]) -> Relaxed:
    """What these prices, none negative, prove."""
    priced = packing.scale * packing.costs
    for row, price in zip(rows, prices, strict=True):
        priced[row.rows] += price * row.times
    by_demand = np.full(len(packing.served.classes), NEVER)
    np.minimum.at(by_demand, packing.demands, priced)
    spent = sum(price * row.capacity for row, price in zip(rows, prices, strict=True))
    least = packing.served.counted(by_demand)[packing.demands]
    bound = packing.served.bound(by_demand, spent)
    return Relaxed(rows=rows, prices=prices, above=priced - least, bound=bound)


class PackingProgramme:
    """The linear programme over all candidates of a packing, of which it holds few at a time.

    Others are added when their reduced costs show that they help.

    Attributes:
        rows: those of the packing, then those added.
    """

    def __init__(self, packing: SetPacking, deadline: Deadline) -> None:
        self._packing, self._deadline = packing, deadline
        # Divided by this, costs are of a size that suits floating point.
        self._unit = max(float(packing.costs.mean()), 1.0) / 100
        self._costs = packing.costs / self._unit
        there = [float(row.capacity) for row in packing.rows]
        dearest = (packing.dearest + 1) / self._unit
        self._programme = Programme(packing.served, there, dearest, deadline.tuning)
        self._programme.begin(float(self._costs.max(initial=1.0)))
        self.rows, self._numbers = [*packing.rows], [*range(len(there))]
        self._place = np.full(len(packing.costs), -1)
        order = np.argsort(packing.costs, kind="stable")
        self._take_in(order[first_rows(packing.demands[order], deadline.tuning.programme_each)])

    def add(self, rows: Sequence[Usage]) -> None:
        """More rows, over all candidates."""
        for row in rows:
            self.rows.append(row)
            self._numbers.append(self._programme.row(float(row.capacity)))
            for column, times in _entries(row, self._place):
                self._programme.use(self._numbers[-1], column, times)

    def _take_in(self, new: Ints) -> None:
        place = np.full(len(self._place), -1)
        place[new] = np.arange(len(new))
        uses: list[list[tuple[int, float]]] = [[] for _ in range(len(new))]
        for number, row in zip(self._numbers, self.rows, strict=True):
            for column, times in _entries(row, place):
                uses[column].append((number, times))
        demands, costs = self._packing.demands[new].tolist(), self._costs[new].tolist()
        self._place[new] = len(self._programme) + np.arange(len(new))
        for cost, demand, own in zip(costs, demands, uses, strict=True):
            self._programme.column(cost, demand, own)

    def solve(self) -> tuple[Floats, list[int]] | None:
        """How much of each candidate it takes, and the prices of the rows, in the packing's scale.

        None if it gave up or the time is up.
        """
        while self._programme.solve(self._deadline):
            duals = self._programme.duals()
            new = self._helpful(duals)
            if len(new):
                self._take_in(new)
            elif not self._programme.raise_artificials():
                parts = np.append(self._programme.parts, 0.0)[self._place]
                return parts, self._prices(duals[self._numbers])
        return None

    def _helpful(self, duals: Floats) -> Ints:
        """Candidates not yet held that make the programme cheaper, the most helpful first."""
        reduced = self._costs - self._programme.paid_by_demands(duals)[self._packing.demands]
        for row, dual in zip(self.rows, duals[self._numbers], strict=True):
            reduced[row.rows] -= dual * row.times
        new = np.flatnonzero((reduced < -_NOTHING) & (self._place < 0))
        return new[np.argsort(reduced[new], kind="stable")[: self._deadline.tuning.programme_more]]

    def _prices(self, duals: Floats) -> list[int]:
        # Any prices of 0 or more prove a bound, but what is paid must add up.
        most = [_HIGHEST // (int(row.times.max(initial=1)) * len(self.rows)) for row in self.rows]
        prices = (-duals * self._unit * self._packing.scale).tolist()
        return [int(min(max(own, 0), high)) for own, high in zip(prices, most, strict=True)]


def _entries(row: Usage, place: Ints) -> list[tuple[int, float]]:
    """By the places of the candidates that have one, how much of the row each uses."""
    held = place[row.rows] >= 0
    columns: list[int] = place[row.rows[held]].tolist()
    return list(zip(columns, row.times[held].astype(float).tolist(), strict=True))


def relax(packing: SetPacking, most: int, deadline: Deadline) -> Relaxed:
    """The best proof of all rounds of cuts.

    They end when one proves that no choice costs ``most`` or less.
    """
    best = relaxed(packing, packing.rows, [0] * len(packing.rows))
    if not packing.served.possible or not len(packing.costs):
        return best
    programme, whole = PackingProgramme(packing, deadline), _whole(packing)
    for _ in range(deadline.tuning.most_cut_rounds):
        solved = None if deadline.passed else programme.solve()
        if solved is None:
            break
        parts, prices = solved
        found = relaxed(packing, [*programme.rows], prices)
        best = max(best, found, key=lambda each: each.bound)
        triples = broken_triples(whole, parts, deadline.tuning)
        if not triples or found.bound > most * packing.scale:
            break
        programme.add(cuts_of(triples))
    return best


def _whole(packing: SetPacking) -> list[Usage]:
    """Rows that there is one of; of a demand there is one, too."""
    own = [np.flatnonzero(packing.demands == d) for d in range(len(packing.served.classes))]
    return [row for row in packing.rows if row.capacity == 1] + [Usage.once(rows) for rows in own]
