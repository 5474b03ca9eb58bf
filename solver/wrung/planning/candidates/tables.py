"""Least cost to complete a stack, for every remaining length: one table serves all targets.

It has cells for the multiples of each level's step, and for each grid by itself, see `layout`: the
least cost of a length is the sum of those of its parts on the grids.
"""

import threading
from collections import OrderedDict
from collections.abc import Iterator
from typing import Final

import numpy as np
from msgspec import Struct

from wrung.deadline import Deadline
from wrung.planning.candidates.layout import Layout, Reach
from wrung.planning.candidates.stock import NEVER, Cells, Ints
from wrung.tuning import TUNING

_SHORT: Final = 1 << 29
"""Where the sum of all costs is less, cells have 32 bits: half as much to fill and to look up."""


class Table(Struct, frozen=True, kw_only=True, weakref=True):
    """Least costs to complete a stack, for one or more ways to cost the items, side by side.

    Attributes:
        costs: by way and item of the layout.
        by_next: by level a matrix; ``by_next[level][i, r]`` is the least cost of item ``i`` of that
            level and any after it on its grid that add up to ``r`` times its step, `NEVER` or more
            where none do; the row after the last item is for the later levels alone. The columns
            of one way follow those of the way before.
        whole: by grid, least cost by way and sum, in steps of the grid.
        reach: longest sums covered.
        cut: whether the time ended before it was filled. It has no matrices then, and nothing may
            be looked up in it; it only gives a lower bound that holds for any stack.
    """

    costs: Cells
    by_next: tuple[Cells, ...]
    whole: tuple[Cells, ...]
    reach: Reach
    cut: bool = False

    @property
    def short(self) -> bool:
        """Whether its cells are of 32 bits."""
        return bool(self.costs.dtype == np.int32)

    @property
    def most(self) -> int:
        """The largest limit to compare cells with: what cannot be built is above it."""
        return _SHORT - 1 if self.short else NEVER - 1

    def as_room(self, most: Ints) -> Cells:
        """Limits to compare the cells with: no cell of what cannot be built is within them."""
        if not self.short:
            return most
        # Of short arrays, `clip` takes five times as long.
        return np.minimum(np.maximum(most, -_SHORT), _SHORT - 1).astype(np.int32)

    @property
    def ways(self) -> int:
        """How many ways to cost the items there are."""
        return len(self.costs)

    def least(self, steps: Ints, ways: Ints) -> Ints:
        """Least cost of any set of pieces with those sums on the grids, by those ways."""
        if self.cut:
            below: Ints = np.minimum(self.costs, 0).sum(axis=1, dtype=np.int64)
            return below[ways]
        one = self._least_on(0, steps[:, 0], ways)
        for grid in range(1, len(self.whole)):
            one = np.minimum(one + self._least_on(grid, steps[:, grid], ways), NEVER)
        return one

    def least_of(self, steps: int) -> int:
        """The same for one sum on the only grid, by the only way."""
        found: int = self.whole[0].item(0, steps)
        return found if found <= self.most else NEVER

    def _least_on(self, grid: int, steps: Ints, ways: Ints) -> Ints:
        inside = steps <= self.reach[grid]
        whole, sums = self.whole[grid], np.where(inside, steps, 0)
        # With one index it keeps the interpreter and takes a tenth of the time.
        found = (whole[0][sums] if len(whole) == 1 else whole[ways, sums]).astype(np.int64)
        return np.where(inside & (found < (_SHORT if self.short else NEVER)), found, NEVER)


def build_table(layout: Layout, costs: Ints, reach: Reach, deadline: Deadline) -> Table:
    """Fill a table for lengths up to ``reach``; ``costs`` is by way and item.

    One that is not filled by the deadline is `Table.cut`.
    """
    own, by_next = _as_cells(costs), list[Cells]()
    # Beyond the last level of a grid only a rest of 0 is possible: the first cell.
    least: list[Cells] = [np.zeros((len(own), 1), dtype=own.dtype) for _ in reach]
    # So that a large table is not even begun when the time is up.
    since = layout.cells(reach) * len(own)
    for cells in _filled(layout, own, reach, by_next, least):
        since += cells
        if since >= deadline.tuning.cells_a_look:
            if deadline.passed:
                return cut_table(own, reach)
            since = 0
    return Table(costs=own, by_next=tuple(reversed(by_next)), whole=tuple(least), reach=reach)


def _filled(
    layout: Layout, costs: Cells, reach: Reach, by_next: list[Cells], least: list[Cells]
) -> Iterator[int]:
    """Fill level by level, the coarsest first; yields before so many cells are filled."""
    coarser = [0] * len(reach)
    never = _never(costs)
    for level in reversed(layout.levels):
        yield 0
        below, width = least[level.grid], reach[level.grid] // level.step + 1
        # Of one way alone the rows have one dimension, which is filled in three quarters of the
        # time.
        ways = (len(costs),) if len(costs) > 1 else ()
        own = costs[:, :, None] if ways else costs[0, :, None]
        cells = np.empty((level.last - level.first + 1, *ways, width), costs.dtype)
        cells[-1] = never
        # The coarser level only has cells at its own multiples, this many cells of this level
        # apart.
        apart = max(coarser[level.grid] // level.step, 1)
        cells[-1, ..., ::apart][..., : below.shape[1]] = below
        best: Cells = cells[-1].copy()
        # From the last item back: what the items after it make up is known by then.
        for item in reversed(range(level.last - level.first)):
            yield best.size
            length, cell = min(int(level.lengths[item]), width), cells[item]
            cell[..., :length] = never
            rest, after = cell[..., length:], best[..., length:]
            np.add(best[..., : width - length], own[..., level.first + item, :], out=rest)
            np.minimum(rest, after, out=after)
        least[level.grid], coarser[level.grid] = best.reshape(len(costs), width), level.step
        by_next.append(cells.reshape(len(cells), -1))


def _as_cells(costs: Ints) -> Cells:
    most = int(np.abs(costs).sum(axis=1).max(initial=0))
    return costs.astype(np.int32) if most < _SHORT else costs


def table_bytes(layout: Layout, costs: Ints, reach: Reach) -> int:
    """The room that such a table takes."""
    return layout.cells(reach) * len(costs) * _as_cells(costs).itemsize


def cut_table(costs: Ints | Cells, reach: Reach) -> Table:
    """A table that is not filled, see `Table.cut`."""
    return Table(costs=costs, by_next=(), whole=(), reach=reach, cut=True)


def _never(cells: Cells) -> int:
    # Reduced by all costs together, it still stays above them, whatever is added or taken off.
    return 2 * _SHORT if cells.dtype == np.int32 else NEVER


class TableCache:
    """Tables that depend on the inventory alone, kept from one request to the next.

    A table that reaches further serves shorter lengths too, so one is kept for an inventory and
    its costs, and replaced when a request reaches beyond it. The least recently used go first.
    """

    def __init__(
        self, most_cells: int = TUNING.most_cells_kept, most_tables: int = TUNING.most_tables
    ) -> None:
        self._most_cells = most_cells
        self._most_tables = most_tables
        self._tables: OrderedDict[tuple[bytes, ...], Table] = OrderedDict()
        self._lock = threading.Lock()

    def get(self, layout: Layout, costs: Ints, reach: Reach, deadline: Deadline) -> Table:
        """The table for ``costs`` by item, built if need be.

        A table that was cut by the deadline (`Table.cut`) is not kept, nor is one too large.
        """
        key = table_key(layout, costs)
        with self._lock:
            table = self._tables.get(key)
            if table is not None and _reaches(table, reach):
                self._tables.move_to_end(key)
                return table
        # Some spare length, so that the next target, if a little longer, finds its table ready.
        roomy = tuple(steps + steps // 8 for steps in reach)
        # Built outside the lock: two threads may do the same work, but neither waits for the other.
        within = roomy if layout.cells(roomy) <= self._most_cells else reach
        table = build_table(layout, costs[None], within, deadline)
        # One too large to be kept would drive all others out.
        if table.cut or _cells(table) > self._most_cells:
            return table
        with self._lock:
            self._tables[key] = table
            self._tables.move_to_end(key)
            self._shrink()
        return table

    @property
    def tables(self) -> dict[tuple[bytes, ...], Table]:
        """Those kept, by inventory and costs, the least recently used first."""
        with self._lock:
            return dict(self._tables)

    def _shrink(self) -> None:
        cells = sum(map(_cells, self._tables.values()))
        while cells > self._most_cells or len(self._tables) > self._most_tables:
            _, oldest = self._tables.popitem(last=False)
            cells -= _cells(oldest)


def _reaches(table: Table, reach: Reach) -> bool:
    return all(there >= asked for there, asked in zip(table.reach, reach, strict=True))


def table_key(layout: Layout, costs: Ints) -> tuple[bytes, bytes]:
    """All that a table depends on except its reach."""
    return layout.key, costs.tobytes()


def _cells(table: Table) -> int:
    return sum(cells.size for cells in (*table.whole, *table.by_next))


TABLES: Final = TableCache()
"""Shared by all searches of the process."""
