"""Least cost to complete a stack, for every remaining length: one table serves all targets.

The gauge pieces are laid out in *levels* of ever coarser steps, the way a stack is chosen by hand
from the last digit up: once the pieces of a level are passed, what remains must be a multiple of
the next level's step. A table therefore needs only the multiples of its level's step, which makes
the fine levels few pieces wide and the coarse ones few lengths long.
"""

import threading
from collections import OrderedDict
from collections.abc import Sequence
from functools import lru_cache
from typing import Final

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from wrung.deadline import Deadline
from wrung.planning.candidates.stock import NEVER, Bools, Cells, Ints, Stock
from wrung.tuning import TUNING, Tuning

_SHORT: Final = 1 << 29
"""Where the sum of all costs is less, cells have 32 bits: half as much to fill and to look up."""


class Level(Struct, frozen=True, kw_only=True):
    """Items ``first`` to ``last - 1`` of a layout; every one is a multiple of ``step``."""

    step: int
    first: int
    last: int
    lengths: Ints
    """Their lengths in units of ``step``."""
    follows: Bools
    """``follows[i, p]``: whether item i may come next where all items before p are passed.

    The row after the last item stands for no further item of the level.
    """


class Layout(Struct, frozen=True, kw_only=True):
    """The gauge pieces as items in the order in which a stack is put together.

    Attributes:
        kinds: kind of each item in the stock; a kind of capacity n stands there n times in a row.
        levels: finest first.
        key: the same for layouts that are the same.
    """

    kinds: Ints
    levels: tuple[Level, ...]
    key: bytes

    def cells(self, reach: int) -> int:
        """Size of a table that covers lengths up to ``reach`` steps of the stock."""
        return sum((v.last - v.first + 1) * (reach // v.step + 1) for v in self.levels)

    def beyond(self, levels: int) -> "Layout":
        """The levels after the given number, in units of the step of the next one."""
        passed, step = self.levels[levels].first, self.levels[levels].step
        further = tuple(
            replace(v, step=v.step // step, first=v.first - passed, last=v.last - passed)
            for v in self.levels[levels:]
        )
        return _layout(self.kinds[passed:], further)


def _layout(kinds: Ints, levels: tuple[Level, ...]) -> Layout:
    # Made once, as every table that is asked for is looked up by it.
    lengths = np.concatenate([level.lengths * level.step for level in levels])
    return Layout(kinds=kinds, levels=levels, key=kinds.tobytes() + lengths.tobytes())


class Table(Struct, frozen=True, kw_only=True, weakref=True):
    """Least costs to complete a stack, for one or more ways to cost the items, side by side.

    Attributes:
        costs: by way and item of the layout.
        by_next: by level a matrix; ``by_next[level][i, r]`` is the least cost of item ``i`` of that
            level and any after it that add up to ``r`` times its step, `NEVER` or more where none
            do; the row after the last item is for the later levels alone. The columns of one way
            follow those of the way before.
        whole: least cost by way and sum, in steps of the stock.
        reach: longest sum covered, in steps of the stock.
        cut: whether the time ended before it was filled. It has no matrices then, and nothing may
            be looked up in it; it only gives a lower bound that holds for any stack.
    """

    costs: Cells
    by_next: tuple[Cells, ...]
    whole: Cells
    reach: int
    cut: bool = False

    @property
    def short(self) -> bool:
        """Whether its cells are of 32 bits."""
        return bool(self.whole.dtype == np.int32)

    def as_room(self, most: Ints) -> Cells:
        """Limits to compare the cells with: no cell of what cannot be built is within them."""
        return np.clip(most, -_SHORT, _SHORT - 1).astype(np.int32) if self.short else most

    @property
    def ways(self) -> int:
        """How many ways to cost the items there are."""
        return len(self.costs)

    def least(self, lengths: Ints, ways: Ints) -> Ints:
        """Least cost of any set of pieces with those sums, in steps of the stock, by those ways."""
        if self.cut:
            below: Ints = np.minimum(self.costs, 0).sum(axis=1, dtype=np.int64)
            return below[ways]
        inside = lengths <= self.reach
        found = self.whole[ways, np.where(inside, lengths, 0)].astype(np.int64)
        return np.where(inside & (found < (_SHORT if self.short else NEVER)), found, NEVER)


def lay_out(stock: Stock, tuning: Tuning = TUNING) -> Layout:
    """Order the gauge pieces of a stock by levels."""
    lengths = stock.nominals[: stock.gauges] // max(stock.step, 1)
    return _lay_out(lengths.tobytes(), stock.capacities[: stock.gauges].tobytes(), tuning)


@lru_cache(maxsize=64)
def _lay_out(length_bytes: bytes, copy_bytes: bytes, tuning: Tuning) -> Layout:
    lengths = np.frombuffer(length_bytes, dtype=np.int64)
    copies = np.frombuffer(copy_bytes, dtype=np.int64)
    steps = _level_steps(lengths, copies, tuning)
    level_of = np.zeros(len(lengths), dtype=np.int64)
    for level, step in enumerate(steps):
        # Steps rise, so each length ends up in the coarsest level whose step divides it.
        level_of[lengths % step == 0] = level
    order = np.lexsort((-lengths, level_of))
    kinds = np.repeat(order, copies[order])
    edges = np.searchsorted(level_of[kinds], np.arange(len(steps) + 1))
    levels = tuple(
        _level(kinds, lengths, step, int(first), int(last))
        for step, first, last in zip(steps, edges[:-1], edges[1:], strict=True)
    )
    return _layout(kinds, levels)


def _level(kinds: Ints, lengths: Ints, step: int, first: int, last: int) -> Level:
    own = kinds[first:last]
    return Level(
        step=step,
        first=first,
        last=last,
        lengths=lengths[own] // step,
        follows=_follows(np.diff(own, prepend=-1) != 0),
    )


def _follows(unlike: Bools) -> Bools:
    """The matrix `Level.follows`, from whether each item is unlike the one before it."""
    items, places = np.arange(len(unlike) + 1)[:, None], np.arange(len(unlike) + 1)
    # In order, and of equal items the first ones first, so that each stack comes up only once.
    follows: Bools = (items == places) | ((items > places) & np.append(unlike, True)[:, None])
    return follows


def _level_steps(lengths: Ints, copies: Ints, tuning: Tuning) -> Sequence[int]:
    """The chain of steps, each dividing the next, that makes the smallest table."""
    distinct = np.unique(lengths)
    tried = np.unique(np.gcd.outer(distinct, distinct))[: tuning.most_steps_tried]
    pieces = (lengths % tried[:, None] == 0) @ copies
    # A level of few pieces saves next to nothing.
    some = pieces * tuning.pieces_a_level >= copies.sum()
    items: dict[int, int] = dict(zip(tried[some].tolist(), pieces[some].tolist(), strict=True))
    # The chain begins at 1, which divides every length.
    items.setdefault(1, int(copies.sum()))
    best: dict[int, tuple[float, int]] = {}
    # Coarsest first: the best chain from a step needs those of its multiples.
    for step in sorted(items, reverse=True):
        # A 0 stands for no coarser level, as no step is 0.
        choices = [(items[step] / step, 0)]
        choices += [
            (
                (items[step] - items[coarser]) / step + best[coarser][0] + tuning.cost_of_a_level,
                coarser,
            )
            for coarser in best
            if coarser % step == 0
        ]
        best[step] = min(choices)
    chain = [1]
    while best[chain[-1]][1]:
        chain.append(best[chain[-1]][1])
    return chain


def build_table(layout: Layout, costs: Ints, reach: int, deadline: Deadline | None = None) -> Table:
    """Fill a table for lengths up to ``reach`` steps of the stock; ``costs`` is by way and item.

    With a ``deadline``, one that is not filled by then is `Table.cut`.
    """
    own = _as_cells(costs)
    by_next: list[Cells] = []
    least: Cells = np.zeros((len(own), 1), dtype=own.dtype)
    # Beyond the last level only a rest of 0 is possible: the first cell.
    coarser, filling = 0, _Filling(own, deadline, layout.cells(reach) * len(own))
    for level in reversed(layout.levels):
        if filling.too_late(0):
            return cut_table(own, reach)
        width = reach // level.step + 1
        # Of one way alone the rows have one dimension, which is filled in three quarters of the
        # time.
        ways = (len(own),) if len(own) > 1 else ()
        cells = np.empty((level.last - level.first + 1, *ways, width), own.dtype)
        cells[-1] = _never(cells)
        # The coarser level only has cells at its own multiples, this many cells of this level
        # apart.
        cells[-1, ..., :: max(coarser // level.step, 1)][..., : least.shape[1]] = least
        filled = filling.fill(cells, level)
        if filled is None:
            return cut_table(own, reach)
        least, coarser = filled.reshape(len(own), width), level.step
        by_next.append(cells.reshape(len(cells), -1))
    return Table(costs=own, by_next=tuple(reversed(by_next)), whole=least, reach=reach)


def _as_cells(costs: Ints) -> Cells:
    most = int(np.abs(costs).sum(axis=1).max(initial=0))
    return costs.astype(np.int32) if most < _SHORT else costs


def table_bytes(layout: Layout, costs: Ints, reach: int) -> int:
    """The room that such a table takes."""
    return layout.cells(reach) * len(costs) * _as_cells(costs).itemsize


def cut_table(costs: Ints | Cells, reach: int) -> Table:
    """A table that is not filled, see `Table.cut`."""
    return Table(costs=costs, by_next=(), whole=costs[:, :0], reach=reach, cut=True)


class _Filling:
    """Fills one level after another, as long as there is time."""

    def __init__(self, costs: Cells, deadline: Deadline | None, cells: int) -> None:
        self._costs = costs
        self._deadline = deadline
        # So that a large table is not even begun when the time is up.
        self._since = cells

    def fill(self, cells: Cells, level: Level) -> Cells | None:
        """Fill all rows but the last: the least of them all, or None if the time is up."""
        width = cells.shape[-1]
        # One cost of an item by way, or a single one where the cells have no ways.
        costs = self._costs[:, :, None] if cells.ndim > 2 else self._costs[0, :, None]  # noqa: PLR2004 - items, ways, cells
        never = _never(cells)
        least: Cells = cells[-1].copy()
        # From the last item back: what the items after it make up is known by then.
        for item in range(level.last - level.first - 1, -1, -1):
            if self.too_late(least.size):
                return None
            length, cell = min(int(level.lengths[item]), width), cells[item]
            cell[..., :length] = never
            rest, after = cell[..., length:], least[..., length:]
            np.add(least[..., : width - length], costs[..., level.first + item, :], out=rest)
            np.minimum(rest, after, out=after)
        return least

    def too_late(self, cells: int) -> bool:
        """Whether the time is up, asked before filling cells; looks at the clock now and then."""
        self._since += cells
        if self._deadline is None or self._since < self._deadline.tuning.cells_a_look:
            return False
        self._since = 0
        return self._deadline.passed


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

    def get(self, layout: Layout, costs: Ints, reach: int, deadline: Deadline) -> Table:
        """The table for ``costs`` by item, built if need be.

        A table that was cut by the deadline (`Table.cut`) is not kept, nor is one too large.
        """
        key = table_key(layout, costs)
        with self._lock:
            table = self._tables.get(key)
            if table is not None and table.reach >= reach:
                self._tables.move_to_end(key)
                return table
        # Some spare length, so that the next target, if a little longer, finds its table ready.
        roomy = reach + reach // 8
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
    def cells(self) -> int:
        """How many cells are kept, each of 8 bytes at most."""
        return sum(_cells(table) for table in self._tables.values())

    def _shrink(self) -> None:
        cells = self.cells
        while cells > self._most_cells or len(self._tables) > self._most_tables:
            _, oldest = self._tables.popitem(last=False)
            cells -= _cells(oldest)


def table_key(layout: Layout, costs: Ints) -> tuple[bytes, bytes]:
    """All that a table depends on except its reach."""
    return layout.key, costs.tobytes()


def _cells(table: Table) -> int:
    return table.whole.size + sum(cells.size for cells in table.by_next)


TABLES: Final = TableCache()
"""Shared by all searches of the process."""
