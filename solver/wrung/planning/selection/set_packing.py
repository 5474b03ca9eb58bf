"""A choice among columns as a set packing: what each costs, what it uses of the rows, and bounds.

For any prices of the rows, no choice costs less than its columns priced one by one, less the prices
of all that there is (Lagrangian relaxation, as in `pricing.prices`). Only whole numbers take part
in that. The prices come from a linear programme over some of the columns.
"""

from collections.abc import Sequence
from typing import Final

import numpy as np
from msgspec import Struct

from wrung.deadline import Deadline
from wrung.planning.candidates.quota import Quota
from wrung.planning.candidates.stock import Bools, Floats, Ints, ranks
from wrung.planning.candidates.walk import Candidates, first_rows
from wrung.planning.candidates.workbench import Workbench
from wrung.planning.selection.choice import Usage, usages
from wrung.planning.selection.programme import Programme

_LARGEST: Final = 1 << 32
"""The largest priced sum."""
_PLENTY: Final = 1 << 50
"""The capacity of no row at all; prices are so high at most."""
_NOTHING: Final = 1e-6
"""A reduced cost that is no lower than minus this is not below 0."""


class SetPacking(Struct, frozen=True, kw_only=True):
    """Columns of which one is chosen for each demand, at least cost.

    Attributes:
        candidates: which candidate each column is; -1 where its demand is left out.
        costs: of each, not negative.
        demands: of each, in order and without gaps.
        rows: by column, the rows that it uses, and -1 in places to spare.
        times: how much it uses of them.
        capacities: of the rows; the last stands for -1.
    """

    candidates: Ints
    costs: Ints
    demands: Ints
    rows: Ints
    times: Ints
    capacities: Ints

    @property
    def count(self) -> int:
        """How many demands there are."""
        return int(self.demands[-1]) + 1 if len(self.demands) else 0

    @property
    def dearest(self) -> int:
        """No choice costs more."""
        most = np.zeros(self.count, np.int64)
        np.maximum.at(most, self.demands, self.costs)
        return int(most.sum())

    @property
    def scale(self) -> int:
        """Prices are whole fractions of a cost, so many to one."""
        return max(_LARGEST // ((int(self.costs.max(initial=0)) + 1) * (self.count + 1)), 1)

    def used(self, columns: Ints) -> Ints:
        """How much these columns use of each row together."""
        rows, times = self.rows[columns].ravel(), self.times[columns].ravel()
        used = np.zeros(len(self.capacities), np.int64)
        np.add.at(used, rows, times)
        return used

    def chosen(self, columns: Ints) -> Ints:
        """The candidates that these columns are."""
        own = self.candidates[columns]
        return own[own >= 0]

    def short(self, columns: Ints) -> Bools:
        """The rows of which some choice of these columns would use more than there is."""
        rows, times = self.rows[columns], self.times[columns]
        own = rows % len(self.capacities) + len(self.capacities) * self.demands[columns, None]
        each = np.zeros(len(self.capacities) * self.count, np.int64)
        np.maximum.at(each, own.ravel(), times.ravel())
        most = each.reshape(self.count, len(self.capacities)).sum(axis=0)
        short: Bools = most > self.capacities
        return short


class Relaxed(Struct, frozen=True, kw_only=True):
    """What prices prove of the choices among some columns; costs times the scale of the packing.

    What a choice costs above the bound is what its columns cost above the least of their demands,
    and the prices of what it leaves unused of the rows.

    Attributes:
        columns: in order, at least one for each demand.
        prices: of the rows, 0 for the last.
        above: by column, what it costs, priced, above the least of its demand.
        bound: no choice costs less.
    """

    columns: Ints
    prices: Ints
    above: Ints
    bound: int

    def within(self, limit: int) -> Ints:
        """The columns of choices that cost no more than this."""
        return self.columns[self.above <= limit - self.bound]


def relaxed(packing: SetPacking, columns: Ints, prices: Ints) -> Relaxed:
    """What these prices, none negative, prove of these columns."""
    paid = (prices[packing.rows[columns]] * packing.times[columns]).sum(axis=1)
    costs = packing.scale * packing.costs[columns] + paid
    first = np.flatnonzero(np.diff(packing.demands[columns], prepend=-1))
    least = np.minimum.reduceat(costs, first)
    above = costs - np.repeat(least, np.diff(first, append=len(columns)))
    bound = int(least.sum()) - int(prices[:-1] @ packing.capacities[:-1])
    return Relaxed(columns=columns, prices=prices, above=above, bound=bound)


def set_packing_of(
    bench: Workbench, candidates: Candidates, served: Quota, costs: Ints, blocks: int | None = None
) -> SetPacking | None:
    """What the least choice of candidates that serves so many is; None if these are too few.

    With ``blocks``, only choices of no more pieces count.
    """
    offered, demands = np.unique(candidates.demands, return_inverse=True)
    quota, own = served.of(offered), np.arange(len(candidates))
    if not quota.possible:
        return None
    rows = [*usages(bench, candidates)]
    if blocks is not None:
        rows.append(Usage(kind=-1, capacity=blocks, rows=own, times=candidates.counts))
    # A column without a candidate leaves a demand out, as often as its class allows it.
    without: list[Ints] = []
    for members, count in quota.parts():
        if count < len(members):
            first = len(own) + sum(map(len, without))
            without.append(members)
            places = np.arange(first, first + len(members))
            spare = len(members) - count
            rows.append(Usage(kind=-1, capacity=spare, rows=places, times=np.ones_like(places)))
    left_out = np.concatenate([own[:0], *without])
    demands = np.concatenate([demands, left_out])
    order = np.argsort(demands, kind="stable")
    table, times = _table(rows, order)
    return SetPacking(
        candidates=np.concatenate([own, np.full(len(left_out), -1)])[order],
        costs=np.concatenate([costs, 0 * left_out])[order],
        demands=demands[order],
        rows=table,
        times=times,
        capacities=np.array([*(row.capacity for row in rows), _PLENTY], np.int64),
    )


def _table(rows: Sequence[Usage], order: Ints) -> tuple[Ints, Ints]:
    """By column, in this order, the rows that it uses, and how much of each."""
    none = order[:0]
    place = np.empty_like(order)
    place[order] = np.arange(len(order))
    column = place[np.concatenate([none, *(row.rows for row in rows)])]
    row = np.repeat(np.arange(len(rows)), [len(each.rows) for each in rows])
    times = np.concatenate([none, *(each.times for each in rows)])
    rank = ranks(column)
    width = int(rank.max(initial=0)) + 1
    table, much = np.full((len(order), width), -1), np.zeros((len(order), width), np.int64)
    table[column, rank], much[column, rank] = row, times
    return table, much


class PackingProgramme:
    """The linear programme over the columns of a packing, of which it holds few at a time.

    Others are added when their reduced costs show that they help.
    """

    def __init__(self, packing: SetPacking, deadline: Deadline) -> None:
        self._packing, self._deadline = packing, deadline
        # Divided by this, costs are of a size that suits floating point.
        self._unit = max(float(packing.costs.mean()), 1.0) / 100
        self._costs = packing.costs / self._unit
        there = [float(capacity) for capacity in packing.capacities[:-1].tolist()]
        dearest = (packing.dearest + 1) / self._unit
        every = Quota(np.zeros(packing.count, np.int64), (packing.count,))
        self._programme = Programme(every, there, dearest, deadline.tuning)
        self._programme.begin(float(self._costs.max(initial=1.0)))
        self._held = np.zeros(0, np.int64)
        self._offered = np.ones(len(packing.costs), np.bool_)
        order = np.argsort(packing.costs, kind="stable")
        self._hold(order[first_rows(packing.demands[order], deadline.tuning.programme_each)])

    def _hold(self, new: Ints) -> None:
        packing = self._packing
        uses = zip(packing.rows[new].tolist(), packing.times[new].tolist(), strict=True)
        costs, demands = self._costs[new].tolist(), packing.demands[new].tolist()
        for cost, demand, (rows, times) in zip(costs, demands, uses, strict=True):
            own = zip(rows, times, strict=True)
            self._programme.column(cost, demand, [(r, float(n)) for r, n in own if r >= 0])
        self._held = np.concatenate([self._held, new])

    def prices(self, columns: Ints, enough: int) -> Ints | None:
        """Prices of the rows where only these columns are left, the best unless these are enough.

        None if the solver gave up or the time is up.
        """
        self._leave(columns)
        while self._programme.solve(self._deadline):
            duals = self._programme.duals()
            new = self._helpful(columns, duals)
            if len(new):
                self._hold(new)
                continue
            value = self._programme.value * self._unit * self._packing.scale
            if value > enough or not self._programme.raise_artificials():
                return self._prices(duals)
        return None

    def _leave(self, columns: Ints) -> None:
        offered = np.zeros(len(self._packing.costs), np.bool_)
        offered[columns] = True
        changed = np.flatnonzero(offered[self._held] != self._offered[self._held])
        for place in changed.tolist():
            self._programme.take(place, 0.0, float(offered[self._held[place]]))
        self._offered = offered

    def _helpful(self, columns: Ints, duals: Floats) -> Ints:
        """Columns not yet held that make the programme cheaper, the most helpful first."""
        packing = self._packing
        others = np.setdiff1d(columns, self._held, assume_unique=True)
        paid = self._programme.paid_by_demands(duals)[packing.demands[others]]
        own = np.append(duals[: len(packing.capacities) - 1], 0.0)
        used = (own[packing.rows[others]] * packing.times[others]).sum(axis=1)
        reduced = self._costs[others] - paid - used
        order = np.argsort(reduced, kind="stable")[: self._deadline.tuning.programme_more]
        new: Ints = others[order[reduced[order] < -_NOTHING]]
        return new

    def _prices(self, duals: Floats) -> Ints:
        """In the packing's scale, whole; any prices of 0 or more prove a bound."""
        packing = self._packing
        # What is paid must add up.
        most = _PLENTY // (int(packing.times.max(initial=1)) * len(packing.capacities))
        own = -duals[: len(packing.capacities) - 1] * self._unit * packing.scale
        return np.append(np.clip(own, 0.0, float(most)).astype(np.int64), 0)
