"""Prices of the rows of a packing, with cuts added as rows until they no longer help."""

from typing import Final

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from wrung.deadline import Deadline
from wrung.planning.candidates.stock import NEVER, Ints
from wrung.planning.candidates.walk import first_rows
from wrung.planning.selection.cuts import Floats, broken_triples, cut_rows
from wrung.planning.selection.programme import Programme
from wrung.planning.selection.set_packing import (
    LagrangianBound,
    Rows,
    SetPacking,
    join_rows,
    lagrangian_bound,
)
from wrung.tuning import TUNING, Tuning

_NOTHING: Final = 1e-6
_HIGHEST: Final = 1 << 50


class Parts(Struct, frozen=True, kw_only=True):
    """The best fractional choice of columns, and the prices of the rows, in the packing's scale."""

    parts: Floats
    prices: Ints


class PackingProgramme:
    """The linear programme over all columns of a packing, of which it holds few at a time.

    Others are added when their reduced costs show that they help.
    """

    def __init__(self, packing: SetPacking, tuning: Tuning = TUNING) -> None:
        self._packing = packing
        self._more = tuning.programme_more
        # Divided by this, costs are of a size that suits floating point.
        self._unit = max(float(packing.costs.mean()), 1.0) / 100
        self._costs = packing.costs / self._unit
        dearest = 200.0 * (packing.dearest + 1) / self._unit
        there = packing.rows.there.astype(float).tolist()
        self._programme = Programme(packing.quota, there, dearest, tuning)
        self._programme.begin(3.0 * float(self._costs.max(initial=1.0)))
        self._numbers = np.arange(len(there))
        self._columns = np.zeros(0, np.int64)
        self.rows = packing.rows
        order = np.argsort(packing.costs, kind="stable")
        self._take_in(order[first_rows(packing.demands[order], tuning.programme_each)])

    def add(self, rows: Rows) -> None:
        """More rows, over all columns."""
        numbers = [self._programme.row(float(there)) for there in rows.there]
        place = np.full(len(self._packing), -1)
        place[self._columns] = np.arange(len(self._columns))
        held = place[rows.column] >= 0
        own: list[int] = rows.row[held].tolist()
        columns: list[int] = place[rows.column[held]].tolist()
        for row, column, times in zip(own, columns, rows.times[held].tolist(), strict=True):
            self._programme.use(numbers[row], column, float(times))
        self._numbers = np.append(self._numbers, numbers)
        self.rows = join_rows(self.rows, rows)

    def _take_in(self, columns: Ints) -> None:
        order = np.argsort(self.rows.column, kind="stable")
        own = self.rows.column[order]
        first, end = (np.searchsorted(own, columns, side).tolist() for side in ("left", "right"))
        uses = list(
            zip(
                self._numbers[self.rows.row[order]].tolist(),
                self.rows.times[order].astype(float).tolist(),
                strict=True,
            )
        )
        demands, costs = self._packing.demands[columns].tolist(), self._costs[columns].tolist()
        for place, (demand, cost) in enumerate(zip(demands, costs, strict=True)):
            self._programme.column(cost, demand, uses[first[place] : end[place]])
        self._columns = np.append(self._columns, columns)

    def solve(self, deadline: Deadline) -> Parts | None:
        """Over all columns; None if it gave up or the time is up."""
        while self._programme.solve(deadline):
            duals = self._programme.duals()
            new = self._helpful(duals)
            if len(new):
                self._take_in(new)
            elif not self._programme.raise_artificials():
                return self._parts(duals[self._numbers])
        return None

    def _helpful(self, duals: Floats) -> Ints:
        """Columns not yet held that make the programme cheaper, the most helpful first."""
        rows, packing = self.rows, self._packing
        paid = np.bincount(rows.column, duals[self._numbers[rows.row]] * rows.times, len(packing))
        reduced = self._costs - paid - self._programme.paid_by_demands(duals)[packing.demands]
        reduced[self._columns] = 0.0
        new = np.flatnonzero(reduced < -_NOTHING)
        return new[np.argsort(reduced[new], kind="stable")[: self._more]]

    def _parts(self, duals: Floats) -> Parts:
        parts = np.zeros(len(self._packing))
        parts[self._columns] = self._programme.parts
        prices = np.clip(-duals * self._unit * self._packing.scale, 0.0, self._highest())
        return Parts(parts=parts, prices=prices.astype(np.int64))

    def _highest(self) -> Floats:
        """Any prices of 0 or more prove a bound, but what a column pays must add up exactly."""
        most = np.ones(len(self.rows))
        np.maximum.at(most, self.rows.row, self.rows.times)
        return _HIGHEST / (most * (len(self.rows) + 1))


class Reason(Struct, frozen=True, kw_only=True):
    """Why a choice of little cost contains only few columns.

    What its columns cost above the least of their demands, and what it leaves unused of the rows,
    at their prices, adds up to no more than its cost exceeds the bound by.

    Attributes:
        rows: those of the packing first.
        prices: of the rows.
        proof: what these prove.
        most: choices of interest cost no more than this, in the scale of the packing.
    """

    rows: Rows
    prices: Ints
    proof: LagrangianBound
    most: int = NEVER

    @property
    def above(self) -> Ints:
        """By column, what it costs above the least of its demand."""
        return self.proof.priced - self.proof.least

    @property
    def excess(self) -> int:
        """What a choice of interest may cost above the bound."""
        return self.most - self.proof.bound

    def where(self, keep: Ints) -> "Reason":
        """The same of some of the columns."""
        priced, least = self.proof.priced[keep], self.proof.least[keep]
        rows = self.rows.where(keep, len(self.proof.priced))
        return replace(self, rows=rows, proof=replace(self.proof, priced=priced, least=least))

    def columns(self) -> Ints:
        """The columns that a choice may contain."""
        return np.flatnonzero(self.above <= self.excess)


def relax(packing: SetPacking, most: int, deadline: Deadline) -> Reason:
    """The best proof of all rounds of cuts.

    They end when one proves that no choice costs ``most`` or less.
    """
    best = _reason(packing, packing.rows, np.zeros(len(packing.rows), np.int64))
    if not packing.quota.possible:
        return best
    # Of a demand there is one, too.
    whole = join_rows(packing.rows, _demand_rows(packing))
    programme = PackingProgramme(packing, deadline.tuning)
    for _ in range(deadline.tuning.most_cut_rounds):
        solved = None if deadline.passed else programme.solve(deadline)
        if solved is None:
            break
        found = _reason(packing, programme.rows, solved.prices)
        best = max(best, found, key=lambda reason: reason.proof.bound)
        triples = broken_triples(whole, solved.parts, deadline.tuning)
        if not len(triples) or found.proof.bound > most * packing.scale:
            break
        programme.add(cut_rows(whole, triples))
    return best


def _reason(packing: SetPacking, rows: Rows, prices: Ints) -> Reason:
    proof = lagrangian_bound(packing, rows, prices)
    return Reason(rows=rows, prices=prices, proof=proof)


def _demand_rows(packing: SetPacking) -> Rows:
    order = np.argsort(packing.demands, kind="stable")
    return Rows(
        row=packing.demands[order],
        column=order,
        times=np.ones(len(packing), np.int64),
        there=np.ones(packing.offered, np.int64),
    )
