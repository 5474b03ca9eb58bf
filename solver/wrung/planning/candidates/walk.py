"""Candidate stacks: every way to build the demands whose costs stay within given limits."""

from collections.abc import Sequence

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from wrung.deadline import Deadline
from wrung.planning.candidates.front import Front, join_fronts, set_at
from wrung.planning.candidates.layout import Layout, Level
from wrung.planning.candidates.starts import Starts
from wrung.planning.candidates.stock import Bools, Cells, Ints, Stock
from wrung.planning.candidates.tables import Table


class Limit(Struct, frozen=True, kw_only=True):
    """A limit on a cost that every candidate must keep to.

    Attributes:
        table: the cost of each item, and the least cost to complete.
        ways: which of the table's ways to cost items is meant, by start.
        spent: cost before the first gauge piece, by start.
        most: what the whole may cost, by start.
    """

    table: Table
    ways: Ints
    spent: Ints
    most: Ints

    def where(self, rows: Ints) -> "Limit":
        """The limit for some of the starts."""
        return Limit(
            table=self.table, ways=self.ways[rows], spent=self.spent[rows], most=self.most[rows]
        )

    def least(self, starts: Starts) -> Ints:
        """Least cost by start of any stack, whatever the other limits say."""
        return self.spent + self.table.least(starts.steps, self.ways)

    def columns(self, level: int, start: Ints, remaining: Ints) -> Ints:
        """Where to look up partial stacks that still need this much, in steps of the level."""
        if self.table.ways == 1:
            return remaining
        width = self.table.by_next[level].shape[1] // self.table.ways
        column: Ints = remaining + self.ways[start] * width
        return column

    def least_left(self, grid: int, crossed: int | None, start: Ints, rest: Ints) -> Cells:
        """Least cost of what a grid must still make up, in steps of the level last crossed."""
        ways = 0 if self.table.ways == 1 else self.ways[start]
        if crossed is None:
            least: Cells = self.table.whole[grid][ways, rest]
        else:
            # The last row is for the levels that follow.
            least = self.table.by_next[crossed][-1, self.columns(crossed, start, rest)]
        return least

    def costs(self, start: Ints, items: Ints) -> Cells:
        """What items cost in stacks of these starts."""
        one = self.table.ways == 1
        costs: Cells = (
            self.table.costs[0].take(items) if one else self.table.costs[self.ways[start], items]
        )
        return costs


class Candidates(Struct, frozen=True, kw_only=True):
    """Candidate stacks, one a row.

    Attributes:
        demands: index of the demand that it serves.
        kinds: kinds of its pieces, as many columns as the longest stack needs, -1 beyond its end.
        counts: number of pieces.
        errors: worst-case error, quanta.
    """

    demands: Ints
    kinds: Ints
    counts: Ints
    errors: Ints

    def __len__(self) -> int:
        return len(self.demands)

    def where(self, chosen: Bools | Ints) -> "Candidates":
        """The chosen rows."""
        return Candidates(
            demands=self.demands[chosen],
            kinds=self.kinds[chosen],
            counts=self.counts[chosen],
            errors=self.errors[chosen],
        )


def no_candidates() -> Candidates:
    """No rows."""
    none = np.zeros(0, np.int64)
    return Candidates(demands=none, kinds=none.reshape(0, 0), counts=none, errors=none)


def join_candidates(parts: Sequence[Candidates]) -> Candidates:
    """All rows of all parts, in order."""
    parts = [part for part in parts if len(part)] or parts[:1]
    if len(parts) == 1:
        return parts[0]
    width = max(part.kinds.shape[1] for part in parts)
    kinds = [
        np.pad(part.kinds, ((0, 0), (0, width - part.kinds.shape[1])), constant_values=-1)
        for part in parts
    ]
    return Candidates(
        demands=np.concatenate([part.demands for part in parts]),
        kinds=np.concatenate(kinds),
        counts=np.concatenate([part.counts for part in parts]),
        errors=np.concatenate([part.errors for part in parts]),
    )


def total_over_kinds(kinds: Ints, values: Ints) -> Ints:
    """Sum of ``values`` over the kinds of each row; -1 adds nothing."""
    # An index of -1 finds the last element, the 0 that is put there for it.
    sums: Ints = np.append(values, 0)[kinds].sum(axis=1)
    return sums


def first_of_each(candidates: Candidates, most: int) -> Candidates:
    """No more than ``most`` candidates of each demand, as they come."""
    return candidates.where(first_rows(candidates.demands, most))


def first_rows(demands: Ints, most: int) -> Ints:
    """The rows of the first so many of each demand, demand by demand."""
    order = np.argsort(demands, kind="stable")
    own = demands[order]
    rank: Ints = np.arange(len(order)) - np.searchsorted(own, own)
    rows: Ints = order[rank < most]
    return rows


def enumerate_candidates(  # noqa: PLR0913, PLR0917 - the parts of one question
    stock: Stock,
    layout: Layout,
    starts: Starts,
    limits: Sequence[Limit],
    most: int,
    deadline: Deadline,
    *,
    levels: int | None = None,
    beam: int | None = None,
) -> Candidates | None:
    """Every candidate within all limits; None past ``most`` partial stacks or the deadline.

    With ``levels``, what candidates use of the pieces of the first so many levels, which the
    limits say can be completed; their errors then mean nothing. With ``beam``, some candidates
    only: no more partial stacks than that are followed at a time.
    """
    if any(limit.table.cut for limit in limits):
        return None
    deadline.memory.room(most * deadline.tuning.bytes_a_partial)
    most = min(most, deadline.memory.left // deadline.tuning.bytes_a_partial)
    walk = _Walk(layout, limits, most, deadline, beam)
    ended = walk.run(starts, len(layout.levels) if levels is None else levels)
    if ended is None:
        return None
    start, node = ended
    return complete(stock, starts, start, walk.kinds_of(node))


def complete(stock: Stock, starts: Starts, start: Ints, added: Ints) -> Candidates:
    """The candidates of these starts with these kinds added, -1 for none."""
    off = starts.offsets[start] + total_over_kinds(added, stock.deviations)
    burdens = starts.burdens[start] + total_over_kinds(added, stock.burdens)
    kinds = np.concatenate([added, starts.begun[start]], axis=1)
    return Candidates(
        demands=starts.demands[start],
        kinds=kinds,
        counts=(kinds >= 0).sum(axis=1),
        errors=stock.errors(off, burdens),
    )


def spell_out(  # noqa: PLR0913, PLR0917 - the parts of one question
    stock: Stock,
    layout: Layout,
    starts: Starts,
    limits: Sequence[Limit],
    most: int,
    deadline: Deadline,
    *,
    levels: int,
) -> Starts | None:
    """Starts that have the pieces of the first so many levels, in every way within the limits.

    Their steps stay those of the stock. None past ``most`` partial stacks or the deadline.
    """
    if any(limit.table.cut for limit in limits):
        return None
    deadline.memory.room(most * deadline.tuning.bytes_a_partial)
    most = min(most, deadline.memory.left // deadline.tuning.bytes_a_partial)
    walk = _Walk(layout, limits, most, deadline, None)
    ended = walk.run(starts, levels)
    if ended is None:
        return None
    start, node = ended
    added, own = walk.kinds_of(node), starts.where(start)
    return Starts(
        demands=own.demands,
        steps=own.steps - _steps_taken(layout, stock, added),
        counts=own.counts + (added >= 0).sum(axis=1),
        burdens=own.burdens + total_over_kinds(added, stock.burdens),
        offsets=own.offsets + total_over_kinds(added, stock.deviations),
        begun=np.concatenate([added, own.begun], axis=1),
    )


def _steps_taken(layout: Layout, stock: Stock, added: Ints) -> Ints:
    """What the pieces make up of each grid, in its steps."""
    taken = np.zeros((len(added), len(layout.steps)), np.int64)
    for grid, step in enumerate(layout.steps):
        lengths = np.zeros_like(stock.nominals)
        for level in layout.levels:
            if level.grid == grid:
                own = layout.kinds[level.first : level.last]
                lengths[own] = stock.nominals[own]
        taken[:, grid] = total_over_kinds(added, lengths) // step
    return taken


def _taken(item: Ints, row: Ints, chosen: Ints) -> tuple[Ints, Ints]:
    return item.take(chosen), row.take(chosen)


class _Walk:
    """Breadth first through the levels; a node is one piece put on another node."""

    def __init__(
        self,
        layout: Layout,
        limits: Sequence[Limit],
        most: int,
        deadline: Deadline,
        beam: int | None,
    ) -> None:
        self._layout = layout
        self._limits = limits
        self._most = most
        self._deadline = deadline
        self._beam = beam
        self._parents: list[Ints] = []
        self._kinds: list[Ints] = []
        self._nodes = 0

    def run(self, starts: Starts, levels: int) -> tuple[Ints, Ints] | None:
        """Start and last node of every complete stack, or of what is passed after some levels."""
        front = self._begun(starts)
        crossed: list[int | None] = [None] * len(front.rests)
        for index, level in enumerate(self._layout.levels[:levels]):
            last = crossed[level.grid]
            if last is not None:
                # What passed a level is a multiple of the step of the next one of its grid.
                ratio = level.step // self._layout.levels[last].step
                if ratio > 1:
                    rest = front.rests[level.grid] // ratio
                    front = replace(front, rests=set_at(front.rests, level.grid, rest))
            passed = self._cross(
                index, level, self._reserve(front, level.grid, crossed, np.subtract)
            )
            if passed is None:
                return None
            crossed[level.grid] = index
            front = self._reserve(passed, level.grid, crossed, np.add)
        return front.start, front.node

    def _begun(self, starts: Starts) -> Front:
        count = len(starts.demands)
        front = Front(
            start=np.arange(count),
            rests=tuple(np.ascontiguousarray(starts.steps.T)),
            room=tuple(limit.table.as_room(limit.most - limit.spent) for limit in self._limits),
            node=np.full(count, -1, dtype=np.int64),
        )
        if len(front.rests) == 1:
            # A length beyond a table's reach has no cell to be looked up in.
            reach = min(limit.table.reach[0] for limit in self._limits)
            inside = front.rests[0] <= reach
            return front if inside.all() else front.where(inside.nonzero()[0])
        # Most ways to split a length can be ruled out at once.
        possible = [limit.least(starts) <= limit.most for limit in self._limits]
        return front.where(np.logical_and.reduce(possible).nonzero()[0])

    def _reserve(
        self, front: Front, grid: int, crossed: Sequence[int | None], change: np.ufunc
    ) -> Front:
        """Take off the room, or put back, the least that the other grids still cost."""
        if len(front.rests) == 1:
            return front
        room = front.room
        for other, rest in enumerate(front.rests):
            if other != grid:
                room = tuple(
                    change(own, limit.least_left(other, crossed[other], front.start, rest))
                    for own, limit in zip(room, self._limits, strict=True)
                )
        return replace(front, room=room)

    def _cross(self, index: int, level: Level, front: Front) -> Front | None:
        """All ways through one level, to those that the next level can complete."""
        place = np.zeros(len(front.start), dtype=np.int64)
        passed: list[Front] = []
        items = level.last - level.first
        while True:
            item, row = self._next(index, level, front, place)
            # At once: a level that was cut short must not pass for a complete one.
            if self._deadline.passed:
                return None
            ends = (item == items).nonzero()[0]
            if len(ends):
                passed.append(front.where(_taken(item, row, ends)[1]))
                item, row = _taken(item, row, (item < items).nonzero()[0])
            item, row = self._followed(item, row)
            if not len(row):
                return join_fronts(passed or [front.where(row)])
            if self._nodes + len(row) > self._most:
                return None
            front, place = self._extend(level, front, item, row), item + 1

    def _followed(self, item: Ints, row: Ints) -> tuple[Ints, Ints]:
        if self._beam is None or len(row) <= self._beam:
            return item, row
        # Spread out: the first ones would contain only the first few items.
        evenly = np.arange(self._beam) * len(row) // self._beam
        return item[evenly], row[evenly]

    def _next(self, index: int, level: Level, front: Front, place: Ints) -> tuple[Ints, Ints]:
        """Items of the level that may come next, with their rows of the front.

        The item after the last one stands for passing the level.
        """
        # In slices, so that the matrices of items by rows stay small.
        height = max(self._deadline.tuning.walk_cells // (level.last - level.first + 1), 1)
        if len(place) <= height:
            return self._slice(index, level, front, place)
        found: list[tuple[Ints, Ints]] = []
        for first in range(0, len(place), height):
            rows = np.arange(first, min(first + height, len(place)))
            item, row = self._slice(index, level, front.where(rows), place[rows])
            found.append((item, row + first))
            if self._deadline.passed:
                break  # `_cross` looks at the clock, too, and gives up
        return np.concatenate([i for i, _ in found]), np.concatenate([r for _, r in found])

    def _slice(self, index: int, level: Level, front: Front, place: Ints) -> tuple[Ints, Ints]:
        rest = front.rests[level.grid]
        columns = [limit.columns(index, front.start, rest) for limit in self._limits]
        first = self._limits[0].table.by_next[index]
        good = first.take(columns[0], axis=1) <= front.room[0]
        good &= level.follows.take(place, axis=1)
        item, row = good.nonzero()
        # The first limit leaves few, so the others only look at these.
        for limit, room, own in zip(self._limits[1:], front.room[1:], columns[1:], strict=True):
            if not len(row):
                break
            cells = limit.table.by_next[index]
            keep = (cells[item, own.take(row)] <= room.take(row)).nonzero()[0]
            item, row = _taken(item, row, keep)
        return item, row

    def _extend(self, level: Level, front: Front, item: Ints, row: Ints) -> Front:
        own = item + level.first
        self._parents.append(front.node.take(row))
        self._kinds.append(self._layout.kinds.take(own))
        node = np.arange(self._nodes, self._nodes + len(row))
        self._nodes += len(row)
        start = front.start.take(row)
        rests = tuple(rest.take(row) for rest in front.rests)
        return Front(
            start=start,
            rests=set_at(rests, level.grid, rests[level.grid] - level.lengths.take(item)),
            room=tuple(
                room.take(row) - limit.costs(start, own)
                for limit, room in zip(self._limits, front.room, strict=True)
            ),
            node=node,
        )

    def kinds_of(self, node: Ints) -> Ints:
        """Kinds on the way to each node, one row a node, padded with -1."""
        parents = np.concatenate([*self._parents, np.full(1, -1)])
        kinds = np.concatenate([*self._kinds, np.full(1, -1)])
        columns: list[Ints] = []
        while (node >= 0).any():
            columns.append(kinds.take(node))
            node = parents.take(node)
        if not columns:
            return np.full((len(node), 0), -1, dtype=np.int64)
        return np.stack(columns, axis=1)
