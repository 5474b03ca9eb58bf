"""A choice among columns as a set packing: what each costs, what it uses of the rows, and bounds.

For any prices of the rows, no choice costs less than its columns priced one by one, less the prices
of all that there is (Lagrangian relaxation, as in `pricing.prices`). Only whole numbers take part
in that, whatever the prices come from.
"""

from collections.abc import Sequence
from typing import Final

import numpy as np
from msgspec import Struct

from wrung.planning.candidates.quota import Quota
from wrung.planning.candidates.stock import Bools, Ints
from wrung.planning.candidates.walk import Candidates
from wrung.planning.candidates.workbench import Workbench
from wrung.planning.selection.choice import Usage, usages

_LARGEST: Final = 1 << 32
"""The largest priced sum."""
_PLENTY: Final = 1 << 50
"""The capacity of no row at all."""


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


def with_row(packing: SetPacking, columns: Ints, sizes: Ints, most: int) -> SetPacking:
    """Some of its columns, and a row by which a choice of them adds up to no larger a size."""
    row = np.full((len(columns), 1), len(packing.capacities) - 1)
    return SetPacking(
        candidates=packing.candidates[columns],
        costs=packing.costs[columns],
        demands=packing.demands[columns],
        rows=np.hstack([packing.rows[columns], row]),
        times=np.hstack([packing.times[columns], sizes[columns, None]]),
        capacities=np.array([*packing.capacities[:-1], most, _PLENTY], np.int64),
    )


def _table(rows: Sequence[Usage], order: Ints) -> tuple[Ints, Ints]:
    """By column, in this order, the rows that it uses, and how much of each."""
    none = order[:0]
    place = np.empty_like(order)
    place[order] = np.arange(len(order))
    column = place[np.concatenate([none, *(row.rows for row in rows)])]
    row = np.repeat(np.arange(len(rows)), [len(each.rows) for each in rows])
    times = np.concatenate([none, *(each.times for each in rows)])
    by_column = np.argsort(column, kind="stable")
    column, row, times = column[by_column], row[by_column], times[by_column]
    rank = np.arange(len(column)) - np.searchsorted(column, column)
    width = int(rank.max(initial=0)) + 1
    table, much = np.full((len(order), width), -1), np.zeros((len(order), width), np.int64)
    table[column, rank], much[column, rank] = row, times
    return table, much
