"""The walk through the levels: every way to build stacks whose costs stay within given limits."""

from collections.abc import Sequence
from typing import Final, TypeAlias

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from wrung.deadline import Deadline
from wrung.planning.candidates.layout import Layout, Level
from wrung.planning.candidates.starts import Starts
from wrung.planning.candidates.stock import Bools, Cells, Ints, Rows, ranks
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
        """For some of the starts."""
        return replace(self, ways=self.ways[rows], spent=self.spent[rows], most=self.most[rows])

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
            self.table.costs[0][items] if one else self.table.costs[self.ways[start], items]
        )
        return costs


class Candidates(Rows, frozen=True, kw_only=True):
    """Candidate stacks, one a row.

    Attributes:
        demands: index of the demand that it serves.
        kinds: kinds of its pieces, as many columns as the longest stack needs, -1 beyond its end.
        counts: number of pieces.
        errors: by the measure of the problem.
    """

    kinds: Ints
    counts: Ints
    errors: Ints


def no_candidates() -> Candidates:
    """No rows."""
    none = np.zeros(0, np.int64)
    return Candidates(demands=none, kinds=none.reshape(0, 0), counts=none, errors=none)


def distinct(candidates: Candidates) -> Candidates:
    """Each of them once, at its first place."""
    return candidates.where(distinct_rows(candidates))


def distinct_rows(candidates: Candidates) -> Ints:
    """The rows of these, in order."""
    own = np.column_stack([candidates.demands, np.sort(candidates.kinds, axis=1)])
    # Rows as byte strings: this takes a third of the time of comparing number by number.
    rows = np.ascontiguousarray(own).view(np.dtype((np.void, own.shape[1] * own.itemsize)))
    _, first = np.unique(rows.ravel(), return_index=True)
    return np.sort(first)


def first_of_each(candidates: Candidates, most: int) -> Candidates:
    """No more than ``most`` candidates of each demand, as they come."""
    return candidates.where(first_rows(candidates.demands, most))


def least_of_each(candidates: Candidates, costs: Ints, most: int) -> Candidates:
    """No more than ``most`` candidates of each demand, those that cost least first."""
    return first_of_each(candidates.where(np.argsort(costs, kind="stable")), most)


def first_rows(demands: Ints, most: int) -> Ints:
    """The rows of the first so many of each demand, demand by demand."""
    order = np.argsort(demands, kind="stable")
    rows: Ints = order[ranks(demands)[order] < most]
    return rows


Front: TypeAlias = list[Ints]
"""Partial stacks, one at each place of every row.

Its rows are the start, the last node (-1 for none), by grid what gauge pieces must still make up in
steps of the level, and by limit what the rest may cost, as in the cells of its table.
"""

_START: Final = 0
_NODE: Final = 1
_RESTS: Final = 2


class Passed(Struct, frozen=True, kw_only=True):
    """Stacks as far as a walk went, one a row.

    Attributes:
        starts: which start each has.
        added: kinds of the pieces that were put on it, padded with -1.
        left: by grid, what gauge pieces must still make up, in its steps.
        whole: by start, whether these are all that there are.
    """

    starts: Ints
    added: Ints
    left: Ints
    whole: Bools


class Walk:
    """Breadth first through the levels; a node is one piece put on another node.

    Args:
        layout: of the tables.
        limits: that stacks keep to.
        most: the most partial stacks.
        deadline: for the whole.
        beam: no more partial stacks are followed at a time.
        by_start: whether so many of each start are.
    """

    def __init__(  # noqa: PLR0913 - what is walked, and how far
        self,
        layout: Layout,
        limits: Sequence[Limit],
        most: int,
        deadline: Deadline,
        *,
        beam: int | None = None,
        by_start: bool = False,
    ) -> None:
        each = deadline.tuning.bytes_a_partial
        deadline.memory.room(most * each)
        self._layout = layout
        self._limits = limits
        self._most = min(most, deadline.memory.left // each)
        self._deadline = deadline
        self._beam = beam
        self._by_start = by_start
        self._crossed: list[int | None] = [None] * len(layout.steps)
        self._rooms = _RESTS + len(layout.steps)
        self._parents: list[Ints] = []
        self._kinds: list[Ints] = []
        self._nodes = 0

    def run(self, starts: Starts, levels: int | None = None) -> Passed | None:
        """Every complete stack, or what is passed after some levels; None if there are too many.

        Also None if the time is up.
        """
        if any(limit.table.cut for limit in self._limits):
            return None
        front, self._crowded = self._begun(starts), np.zeros(len(starts), np.bool_)
        for index, level in enumerate(self._layout.levels[:levels]):
            last = self._crossed[level.grid]
            if last is not None:
                # What passed a level is a multiple of the step of the next one of its grid.
                ratio = level.step // self._layout.levels[last].step
                front[_RESTS + level.grid] = front[_RESTS + level.grid] // ratio
            self._reserve(front, level.grid, -1)
            passed = self._cross(index, level, front)
            if passed is None:
                return None
            front, self._crossed[level.grid] = passed, index
            self._reserve(front, level.grid, 1)
        steps = [1 if last is None else self._layout.levels[last].step for last in self._crossed]
        return Passed(
            starts=front[_START],
            added=self._kinds_of(front[_NODE]),
            left=np.column_stack(front[_RESTS : self._rooms]) * np.array(steps),
            whole=~self._crowded,
        )

    def _begun(self, starts: Starts) -> Front:
        count = len(starts)
        if len(starts.steps.T) == 1:
            # A length beyond a table's reach has no cell to be looked up in.
            inside = starts.steps[:, 0] <= min(limit.table.reach[0] for limit in self._limits)
        else:
            # Most ways to split a length can be ruled out at once.
            possible = [limit.least(starts) <= limit.most for limit in self._limits]
            inside = np.logical_and.reduce(possible)
        rooms = [limit.table.as_room(limit.most - limit.spent) for limit in self._limits]
        front = [np.arange(count), np.full(count, -1), *starts.steps.T, *rooms]
        return front if all(inside.tolist()) else [row[inside] for row in front]

    def _reserve(self, front: Front, grid: int, sign: int) -> None:
        """Take off the room, or put back, the least that the other grids still cost."""
        for other, last in enumerate(self._crossed):
            if other != grid:
                start, rest = front[_START], front[_RESTS + other]
                for room, limit in enumerate(self._limits, start=self._rooms):
                    front[room] = front[room] + sign * limit.least_left(other, last, start, rest)

    def _cross(self, index: int, level: Level, front: Front) -> Front | None:
        """All ways through one level, to those that the next level can complete."""
        place = np.zeros(len(front[_START]), np.int64)
        passed: list[Front] = []
        items = level.last - level.first
        while True:
            item, row = self._next(index, level, front, place)
            # At once: a level that was cut short must not pass for a complete one.
            if self._deadline.passed:
                return None
            further = (item < items).nonzero()[0]
            if len(further) < len(item):
                passed.append(_places(front, row[item == items] if len(further) else row))
            if not len(further):
                first, *others = passed or [_places(front, row)]
                if not others:
                    return first
                return [np.concatenate(rows) for rows in zip(first, *others, strict=True)]
            item, row = self._followed(item[further], row[further], front)
            if self._nodes + len(row) > self._most:
                return None
            front, place = self._extend(level, front, item, row), item + 1

    def _followed(self, item: Ints, row: Ints, front: Front) -> tuple[Ints, Ints]:
        beam = self._beam
        if beam is None or len(row) <= beam:
            return item, row
        own = front[_START][row]
        group = own if self._by_start else np.zeros_like(own)
        many = np.bincount(group)[group]
        self._crowded[own[many > beam]] = True
        rank = ranks(group)
        # Spread out: the first ones would contain only the first few items.
        spread: Bools = rank * beam // many > (rank - 1) * beam // many
        kept = (spread | (many <= beam)).nonzero()[0]
        return item[kept], row[kept]

    def _next(self, index: int, level: Level, front: Front, place: Ints) -> tuple[Ints, Ints]:
        """Items of the level that may come next, with their places in the front.

        The item after the last one stands for passing the level.
        """
        # In slices, so that the matrices of items by partial stacks stay small.
        height = max(self._deadline.tuning.walk_cells // (level.last - level.first + 1), 1)
        if len(place) <= height:
            return self._slice(index, level, front, place)
        found: list[tuple[Ints, Ints]] = []
        for first in range(0, len(place), height):
            own = slice(first, first + height)
            item, row = self._slice(index, level, [each[own] for each in front], place[own])
            found.append((item, row + first))
            if self._deadline.passed:
                break  # `_cross` looks at the clock, too, and gives up
        return np.concatenate([i for i, _ in found]), np.concatenate([r for _, r in found])

    def _slice(self, index: int, level: Level, front: Front, place: Ints) -> tuple[Ints, Ints]:
        start, rest = front[_START], front[_RESTS + level.grid]
        item = row = place[:0]
        # The first limit leaves few, so the others only look at these.
        for number, limit in enumerate(self._limits):
            cells, room = limit.table.by_next[index], front[self._rooms + number]
            columns = limit.columns(index, start, rest)
            if number:
                keep = cells[item, columns[row]] <= room[row]
                item, row = item[keep], row[keep]
            else:
                some = cells.take(columns, axis=1) <= room
                item, row = (some & level.follows.take(place, axis=1)).nonzero()
        return item, row

    def _extend(self, level: Level, front: Front, item: Ints, row: Ints) -> Front:
        own = item + level.first
        self._parents.append(front[_NODE][row])
        self._kinds.append(self._layout.kinds[own])
        further = _places(front, row)
        further[_NODE] = np.arange(self._nodes, self._nodes + len(row))
        self._nodes += len(row)
        further[_RESTS + level.grid] -= level.lengths[item]
        for room, limit in enumerate(self._limits, start=self._rooms):
            further[room] -= limit.costs(further[_START], own)
        return further

    def _kinds_of(self, node: Ints) -> Ints:
        """Kinds on the way to each node, one row a node, padded with -1."""
        parents = np.concatenate([*self._parents, np.full(1, -1)])
        kinds = np.concatenate([*self._kinds, np.full(1, -1)])
        columns: list[Ints] = []
        while np.count_nonzero(node >= 0):
            columns.append(kinds[node])
            node = parents[node]
        if not columns:
            return np.full((len(node), 0), -1, dtype=np.int64)
        return np.array(columns).T


def _places(front: Front, places: Ints) -> Front:
    """Copies of what is at these places."""
    return [row[places] for row in front]
