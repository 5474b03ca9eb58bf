"""The set packing problem as columns and rows of whole numbers, and what prices prove about it.

A column is a candidate. A row says that chosen columns use no more of something than its capacity:
a kind of piece, a demand, a limited sum. For any prices of the rows, no choice costs less than its
columns priced one by one, less the prices of all that there is (Lagrangian relaxation, as in
`pricing.prices`); only whole numbers take part in that, whatever the prices come from.
"""

from typing import Final

import numpy as np
from msgspec import Struct

from wrung.planning.candidates.quota import Quota
from wrung.planning.candidates.stock import NEVER, Ints
from wrung.planning.candidates.walk import Candidates
from wrung.planning.candidates.workbench import Workbench
from wrung.planning.selection.choice import usages

_LARGEST: Final = 1 << 32
"""The largest priced sum: floating point adds whole numbers exactly up to 8192 times this."""


class Rows(Struct, frozen=True, kw_only=True):
    """Rows in sparse form: entry by entry, in order of the rows.

    Attributes:
        row: of each entry.
        column: of each entry.
        times: how much of the row the column uses.
        there: by row, how much there is.
    """

    row: Ints
    column: Ints
    times: Ints
    there: Ints

    def __len__(self) -> int:
        return len(self.there)

    def over_columns(self, prices: Ints, columns: int) -> Ints:
        """What each column pays."""
        paid = prices[self.row] * self.times
        # Sums of whole numbers of this size are exact in floating point, too.
        return np.bincount(self.column, paid, columns).astype(np.int64)

    def where(self, keep: Ints, columns: int) -> "Rows":
        """The same rows over some of the columns, numbered anew."""
        place = np.full(columns, -1)
        place[keep] = np.arange(len(keep))
        entries = place[self.column] >= 0
        return Rows(
            row=self.row[entries],
            column=place[self.column[entries]],
            times=self.times[entries],
            there=self.there,
        )


def join_rows(rows: Rows, more: Rows) -> Rows:
    """All of them, in order."""
    return Rows(
        row=np.concatenate([rows.row, more.row + len(rows)]),
        column=np.concatenate([rows.column, more.column]),
        times=np.concatenate([rows.times, more.times]),
        there=np.concatenate([rows.there, more.there]),
    )


class SetPacking(Struct, frozen=True, kw_only=True):
    """Columns of which so many are to be chosen, at most one for each demand, at least cost.

    Attributes:
        costs: what each column costs.
        demands: their demands, numbered without gaps.
        quota: how many of these are served.
        rows: what they use.
        scale: prices are whole fractions of the cost, so many to one.
    """

    costs: Ints
    demands: Ints
    quota: Quota
    rows: Rows
    scale: int

    def __len__(self) -> int:
        return len(self.costs)

    @property
    def served(self) -> int:
        """How many columns are chosen."""
        return self.quota.total

    @property
    def offered(self) -> int:
        """How many demands have a column."""
        return int(self.demands.max(initial=-1)) + 1

    @property
    def dearest(self) -> int:
        """An upper bound on the cost of any choice."""
        most = np.zeros(self.offered, np.int64)
        np.maximum.at(most, self.demands, self.costs)
        dearest = 0
        for demands, count in self.quota.parts():
            dearest += int(np.sort(most[demands])[::-1][:count].sum())
        return dearest


class LagrangianBound(Struct, frozen=True, kw_only=True):
    """What prices prove; costs times the scale of the packing.

    Attributes:
        priced: by column.
        least: by column, the least of what a choice pays for its demand.
        bound: no choice costs less; `NEVER` where there is none.
    """

    priced: Ints
    least: Ints
    bound: int


def set_packing_of(
    bench: Workbench, candidates: Candidates, served: Quota, costs: Ints, blocks: int | None = None
) -> SetPacking:
    """Lay candidates out as columns; costs are not negative. With ``blocks``, no more pieces."""
    own, demands = np.unique(candidates.demands, return_inverse=True)
    rows = _rows(bench, candidates)
    if blocks is not None:
        rows = join_rows(rows, limit_row(candidates.counts, blocks))
    return SetPacking(
        costs=costs,
        demands=demands,
        quota=served.of(own),
        rows=rows,
        scale=_scale(costs, served.total),
    )


def _scale(costs: Ints, served: int) -> int:
    dearest = (int(costs.max(initial=0)) + 1) * (served + 1)
    return max(_LARGEST // dearest, 1)


def limit_row(weights: Ints, most: int) -> Rows:
    """A limit on the total weight of a choice; weights are not negative."""
    return Rows(
        row=np.zeros(len(weights), np.int64),
        column=np.arange(len(weights)),
        times=weights,
        there=np.array([most], np.int64),
    )


def _rows(bench: Workbench, candidates: Candidates) -> Rows:
    parts = list(usages(bench, candidates))
    sizes = [len(part.rows) for part in parts]
    none = np.zeros(0, np.int64)
    return Rows(
        row=np.repeat(np.arange(len(parts)), sizes),
        column=np.concatenate([none, *(part.rows for part in parts)]),
        times=np.concatenate([none, *(part.times for part in parts)]),
        there=np.array([part.capacity for part in parts], np.int64),
    )


def lagrangian_bound(packing: SetPacking, rows: Rows, prices: Ints) -> LagrangianBound:
    """What these prices, none negative, prove: of the packing's rows, or of more than these."""
    priced = packing.scale * packing.costs + rows.over_columns(prices, len(packing))
    by_demand = np.full(packing.offered, NEVER)
    np.minimum.at(by_demand, packing.demands, priced)
    bound = packing.quota.bound(by_demand, int((prices * rows.there).sum()))
    least = packing.quota.counted(by_demand)[packing.demands]
    return LagrangianBound(priced=priced, least=least, bound=bound)
