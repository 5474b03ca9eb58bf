"""What is open once some columns are chosen: the others that still fit, and a bound."""

from typing import Final

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from wrung.deadline import Deadline
from wrung.planning.candidates.stock import Bools, Ints
from wrung.planning.selection.duals import Covering, duals
from wrung.planning.selection.set_packing import Rows, SetPacking

_UNIT: Final = 100.0
"""The mean cost in the programmes, which suits floating point."""


class Node(Struct, frozen=True, kw_only=True):
    """Some columns are chosen; for the open demands, these columns fit beside them.

    Attributes:
        chosen: columns, -1 where a demand is left out.
        paid: their cost, in the packing's scale.
        columns: that fit, in order of their demands.
        demands: of these, numbered without gaps.
        costs: of these, in the packing's scale.
        table: rows by columns, how much a column uses of a row.
        left: how much is left of each row.
    """

    chosen: tuple[int, ...]
    paid: int
    columns: Ints
    demands: Ints
    costs: Ints
    table: Ints
    left: Ints

    @property
    def open(self) -> int:
        """How many demands have no column chosen."""
        return int(self.demands[-1]) + 1 if len(self.demands) else 0

    def first(self) -> Ints:
        """Of each open demand, the place of the first column."""
        return np.searchsorted(self.demands, np.arange(self.open))

    def short(self) -> Bools:
        """The rows whose capacity some choice could exceed."""
        if not self.open:
            return np.zeros(len(self.left), np.bool_)
        most: Ints = np.maximum.reduceat(self.table, self.first(), axis=1).sum(1)
        return most > self.left

    def of_rows(self, rows: Bools) -> "Node":
        """The same with some of the rows."""
        return replace(self, table=self.table[rows], left=self.left[rows])

    def where(self, keep: Bools) -> "Node":
        """The same with some of the columns."""
        return replace(
            self,
            columns=self.columns[keep],
            demands=self.demands[keep],
            costs=self.costs[keep],
            table=self.table[:, keep],
        )

    def choose(self, place: int) -> "Node | None":
        """With the column at this place chosen, too; None if a demand is left with none."""
        demand, used = self.demands[place], self.table[:, place]
        left, rows = self.left - used, np.flatnonzero(used)
        fit = (self.table[rows] <= left[rows, None]).all(0) & (self.demands != demand)
        demands = self.demands[fit]
        if len(np.unique(demands)) < self.open - 1:
            return None
        return Node(
            chosen=(*self.chosen, int(self.columns[place])),
            paid=self.paid + int(self.costs[place]),
            columns=self.columns[fit],
            demands=demands - (demands > demand),
            costs=self.costs[fit],
            table=self.table[:, fit],
            left=left,
        )


class PricedNode(Struct, frozen=True, kw_only=True):
    """What prices of the rows say of a node: no choice within it costs less than ``bound``.

    One that holds a certain column costs more by what that is ``above`` the least of its demand,
    at least.
    """

    node: Node
    prices: Ints
    above: Ints
    bound: int

    def within(self, limit: int) -> "PricedNode | None":
        """With the columns that a choice within the limit may hold, if there may be any."""
        return None if self.bound > limit else self.where(self.above <= limit - self.bound)

    def where(self, keep: Bools) -> "PricedNode | None":
        """With some of the columns; None if a demand is left with none."""
        if keep.all():
            return self
        node = self.node.where(keep)
        if len(np.unique(node.demands)) < self.node.open:
            return None
        # The least of a demand may be among those left out.
        return priced(node, self.prices)


def priced(node: Node, prices: Ints) -> PricedNode:
    """What these prices, none negative, prove. Only whole numbers are used."""
    costs = node.costs + prices @ node.table
    least: Ints = np.minimum.reduceat(costs, node.first())
    bound = node.paid + int(least.sum()) - int(prices @ node.left)
    above = costs - least[node.demands]
    return PricedNode(node=node, prices=prices, above=above, bound=bound)


def priced_anew(said: PricedNode, limit: int, deadline: Deadline) -> PricedNode:
    """The same of the prices of a linear programme, or of those there are, where it fails."""
    node = said.node
    unit = max(float(node.costs.mean()), 1.0) / _UNIT
    programme = Covering(
        costs=node.costs / unit,
        demands=node.demands,
        table=node.table,
        there=node.left,
        artificial=deadline.tuning.artificial_of_limit * limit / unit,
    )
    found = duals(programme, deadline)
    return said if found is None else priced(node, np.rint(found * unit).astype(np.int64))


def whole(packing: SetPacking, columns: Ints) -> Node | None:
    """Nothing is chosen yet; None if a demand that must be served has no column.

    Where some demands need not be served, a column of no cost leaves each of them out.
    """
    there = packing.rows.there
    table = _table(packing.rows.where(columns, len(packing)), len(columns))
    demands, costs = packing.demands[columns], packing.costs[columns]
    fit = (table <= there[:, None]).all(0)
    columns, demands, costs, table = columns[fit], demands[fit], costs[fit], table[:, fit]
    for each, count in packing.quota.parts():
        spare = len(each) - count
        if spare <= 0:
            continue
        columns = np.concatenate([columns, np.full(len(each), -1)])
        demands, costs = np.concatenate([demands, each]), np.concatenate([costs, 0 * each])
        table = np.pad(table, ((0, 1), (0, len(each))))
        table[-1, -len(each) :] = 1
        there = np.append(there, spare)
    if not packing.quota.possible or len(np.unique(demands)) < packing.offered:
        return None
    order = np.argsort(demands, kind="stable")
    return Node(
        chosen=(),
        paid=0,
        columns=columns[order],
        demands=demands[order],
        costs=packing.scale * costs[order],
        table=table[:, order],
        left=there,
    )


def _table(rows: Rows, columns: int) -> Ints:
    table = np.zeros((len(rows), columns), np.int64)
    table[rows.row, rows.column] = rows.times
    return table
