"""Candidate stacks: every way to build the demands whose costs stay within given limits."""

from collections.abc import Sequence
from typing import Final

import numpy as np
from msgspec import Struct

from wrung.planning.candidates.stock import Bools, Ints, Starts, Stock
from wrung.planning.candidates.tables import Layout, Level, Table
from wrung.planning.deadline import Deadline

_MOST_CELLS: Final = 500_000


class Limit(Struct, frozen=True, kw_only=True):
    """A cost that every candidate must keep to.

    Attributes:
        table: the cost of each item, and the least cost to complete.
        spent: cost before the first gauge piece, by start.
        most: what the whole may cost, by start.
    """

    table: Table
    spent: Ints
    most: Ints

    def where(self, rows: Ints) -> "Limit":
        """The limit for some of the starts."""
        return Limit(table=self.table, spent=self.spent[rows], most=self.most[rows])

    def least(self, starts: Starts) -> Ints:
        """Least cost by start of any stack, whatever the other limits say."""
        return self.spent + self.table.least(starts.steps)


class Candidates(Struct, frozen=True, kw_only=True):
    """Candidate stacks, one a row.

    Attributes:
        demands: index of the demand that it serves.
        kinds: kinds of its pieces, as many columns as the longest needs, -1 beyond its end.
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
    walk = _Walk(layout, limits, most, deadline, beam)
    ended = walk.run(starts, len(layout.levels) if levels is None else levels)
    if ended is None:
        return None
    start, node = ended
    kinds = np.concatenate([walk.kinds_of(node), starts.wear[start]], axis=1)
    return _candidates(stock, starts, start, kinds)


def _candidates(stock: Stock, starts: Starts, start: Ints, kinds: Ints) -> Candidates:
    gauge = np.arange(len(stock.nominals)) < stock.gauges
    deviation = np.where(gauge, stock.deviations, 0)
    burden = np.where(gauge, stock.burdens, 0)
    off = starts.offsets[start] + total_over_kinds(kinds, deviation)
    return Candidates(
        demands=starts.demands[start],
        kinds=kinds,
        counts=(kinds >= 0).sum(axis=1),
        errors=stock.errors(off, starts.burdens[start] + total_over_kinds(kinds, burden)),
    )


class _Front(Struct, frozen=True, kw_only=True):
    """Partial stacks that have reached one level: what remains, what each limit has spent."""

    start: Ints
    remaining: Ints
    spent: tuple[Ints, ...]
    node: Ints

    def where(self, chosen: Bools | Ints) -> "_Front":
        return _Front(
            start=self.start[chosen],
            remaining=self.remaining[chosen],
            spent=tuple(spent[chosen] for spent in self.spent),
            node=self.node[chosen],
        )


def _join(fronts: Sequence[_Front]) -> _Front:
    # Often one way leads on, and copies of short arrays are what a search of one target is made of.
    fronts = [front for front in fronts if len(front.start)] or fronts[:1]
    if len(fronts) == 1:
        return fronts[0]
    return _Front(
        start=np.concatenate([front.start for front in fronts]),
        remaining=np.concatenate([front.remaining for front in fronts]),
        spent=tuple(
            np.concatenate(columns)
            for columns in zip(*(front.spent for front in fronts), strict=True)
        ),
        node=np.concatenate([front.node for front in fronts]),
    )


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
        """Start and last node of every complete stack."""
        count = len(starts.demands)
        front = _Front(
            start=np.arange(count),
            remaining=starts.steps,
            spent=tuple(limit.spent for limit in self._limits),
            node=np.full(count, -1, dtype=np.int64),
        )
        reach = min(limit.table.reach for limit in self._limits)
        # A length beyond a table's reach has no cell to be looked up in.
        front = front.where(front.remaining <= reach)
        for index, level in enumerate(self._layout.levels[:levels]):
            passed = self._cross(index, level, front)
            if passed is None:
                return None
            front = passed
        # After some levels only, each limit has said that the rest can be completed.
        done = (front.remaining == 0) | (levels < len(self._layout.levels))
        return front.start[done], front.node[done]

    def _cross(self, index: int, level: Level, front: _Front) -> _Front | None:
        """All ways through one level, to those that the next level can complete."""
        # All pieces from here on are multiples of the step: nothing else can be completed.
        if level.step > 1:
            front = front.where(front.remaining % level.step == 0)
        place = np.zeros(len(front.start), dtype=np.int64)
        passed: list[_Front] = []
        while True:
            passed.append(front.where(self._can_pass(index, level, front)))
            if not len(front.start) or level.last == level.first:
                return _join(passed)
            row, item = self._followed(*self._extensions(index, level, front, place))
            if self._nodes + len(row) > self._most or self._deadline.passed:
                return None
            front, place = self._extend(level, front, row, item), item + 1

    def _followed(self, row: Ints, item: Ints) -> tuple[Ints, Ints]:
        if self._beam is None or len(row) <= self._beam:
            return row, item
        # Spread out: the first rows alone would belong to the first few starts.
        evenly = np.arange(self._beam) * len(row) // self._beam
        return row[evenly], item[evenly]

    def _can_pass(self, index: int, level: Level, front: _Front) -> Bools:
        remaining = front.remaining // level.step
        good = np.ones(len(remaining), dtype=np.bool_)
        for limit, spent in zip(self._limits, front.spent, strict=True):
            good &= spent + limit.table.rest[index][-1][remaining] <= limit.most[front.start]
        return good

    def _extensions(
        self, index: int, level: Level, front: _Front, place: Ints
    ) -> tuple[Ints, Ints]:
        """Rows of the front and the items of the level that may come next on them."""
        # In slices, so that the matrices of rows by items stay small.
        height = max(_MOST_CELLS // (level.last - level.first), 1)
        if len(front.start) <= height:
            return self._slice(index, level, front, place)
        found: list[tuple[Ints, Ints]] = []
        for first in range(0, len(front.start), height):
            rows = np.arange(first, min(first + height, len(front.start)))
            row, item = self._slice(index, level, front.where(rows), place[rows])
            found.append((row + first, item))
            if self._deadline.passed:
                break  # whoever asked looks at the clock, too, and gives up
        return np.concatenate([r for r, _ in found]), np.concatenate([i for _, i in found])

    def _slice(self, index: int, level: Level, front: _Front, place: Ints) -> tuple[Ints, Ints]:
        items, own = np.arange(level.last - level.first), place[:, None]
        remaining = front.remaining if level.step == 1 else front.remaining // level.step
        left = remaining[:, None] - level.lengths
        # In order, and of equal items the first ones first: each stack comes up once.
        good = ((items > own) & level.free) | (items == own)
        good &= left >= 0
        # What is ruled out already needs a valid place in the table all the same.
        np.maximum(left, 0, out=left)
        for limit, spent in zip(self._limits, front.spent, strict=True):
            cost = limit.table.costs[level.first : level.last]
            table = limit.table.rest[index]
            # The rest may only be made up by later items, hence the row after the item's own.
            rest: Ints = table.ravel()[(items + 1) * table.shape[1] + left]
            room = limit.most[front.start] - spent
            good &= rest + cost <= room[:, None]
        row, item = np.nonzero(good)
        return row, item

    def _extend(self, level: Level, front: _Front, row: Ints, item: Ints) -> _Front:
        self._parents.append(front.node[row])
        self._kinds.append(self._layout.kinds[level.first + item])
        node = np.arange(self._nodes, self._nodes + len(row))
        self._nodes += len(row)
        return _Front(
            start=front.start[row],
            remaining=front.remaining[row] - level.lengths[item] * level.step,
            spent=tuple(
                spent[row] + limit.table.costs[level.first + item]
                for limit, spent in zip(self._limits, front.spent, strict=True)
            ),
            node=node,
        )

    def kinds_of(self, node: Ints) -> Ints:
        """Kinds on the way to each node, one row a node, padded with -1."""
        parents = np.concatenate([*self._parents, np.full(1, -1)])
        kinds = np.concatenate([*self._kinds, np.full(1, -1)])
        columns: list[Ints] = []
        while (node >= 0).any():
            columns.append(kinds[node])
            node = parents[node]
        if not columns:
            return np.full((len(node), 0), -1, dtype=np.int64)
        return np.stack(columns, axis=1)
