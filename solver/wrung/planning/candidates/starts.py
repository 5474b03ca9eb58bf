"""Every way to begin a stack, and to split what is left of its length between the grids."""

from collections.abc import Callable, Iterator, Sequence
from itertools import combinations_with_replacement
from typing import TypeAlias

import numpy as np
from msgspec import Struct

from wrung.deadline import Deadline
from wrung.planning.candidates.layout import Layout
from wrung.planning.candidates.stock import Bools, Ints, Stock, rows_of
from wrung.planning.problem import Demand, Problem
from wrung.subset_sums import reached
from wrung.tuning import Tuning


class Starts(Struct, frozen=True, kw_only=True):
    """Every way to begin a stack: its first pieces and the sums that gauge pieces still make up.

    The first pieces are its wear pieces and its step, and where they are spelt out (see
    `workbench.spelt_out`) its finest gauge pieces as well.

    Attributes:
        demands: index of the demand.
        steps: what the gauge pieces of each grid must add up to, in its steps.
        counts: number of pieces already in the stack.
        burdens: their burdens less the one joint too many, quanta.
        offsets: nominal sum of the whole plus their deviations less the target, quanta.
        begun: kinds of these pieces, -1 where a column has none.
    """

    demands: Ints
    steps: Ints
    counts: Ints
    burdens: Ints
    offsets: Ints
    begun: Ints

    def where(self, rows: Ints) -> "Starts":
        """Some of the starts."""
        return Starts(
            demands=self.demands[rows],
            steps=self.steps[rows],
            counts=self.counts[rows],
            burdens=self.burdens[rows],
            offsets=self.offsets[rows],
            begun=self.begun[rows],
        )


class _Beginnings(Struct, frozen=True, kw_only=True):
    """Demands with what their ends have: what is left for the gauge pieces lies in ``low..high``.

    ``offsets`` are of stacks whose gauge pieces have no length; the rest is as in `Starts`.
    """

    demands: Ints
    low: Ints
    high: Ints
    counts: Ints
    burdens: Ints
    offsets: Ints
    begun: Ints


Within: TypeAlias = Callable[[Starts], Bools]
"""Which of some starts are to be kept."""


def starts_of(
    problem: Problem,
    stock: Stock,
    layout: Layout,
    deadline: Deadline,
    within: Within | None = None,
) -> Starts | None:
    """All starts that the stock's gauge pieces could complete; None if there are too many.

    Also None if the time is up before all are known.
    """
    begun = _beginnings(problem, stock, deadline)
    if begun is None:
        return None
    tuning, single = deadline.tuning, len(layout.steps) == 1
    left = tuning.most_starts if single else tuning.most_splits
    parts: list[Starts] = []
    for split in _splits(layout, begun, tuning):
        if split is None:
            return None
        part = _starts(problem, layout, begun, split)
        parts.append(part if within is None else part.where(np.flatnonzero(within(part))))
        left -= len(parts[-1].demands)
        # Only what takes long looks at the clock: one start for each demand takes no time.
        if left < 0 or (not single and deadline.passed):
            return None
    return _joined(parts)


def _starts(problem: Problem, layout: Layout, begun: "_Beginnings", split: "_Split") -> Starts:
    rows, steps = split.rows, split.steps
    off = begun.offsets[rows]
    if not problem.measure.corrected:
        off = off + steps @ np.array(layout.steps, np.int64)
    return Starts(
        demands=begun.demands[rows],
        steps=steps,
        counts=begun.counts[rows],
        burdens=begun.burdens[rows],
        offsets=off,
        begun=rows_of(begun.begun, rows),
    )


def _joined(parts: Sequence[Starts]) -> Starts:
    if len(parts) == 1:
        return parts[0]
    return Starts(
        demands=np.concatenate([part.demands for part in parts]),
        steps=np.concatenate([part.steps for part in parts]),
        counts=np.concatenate([part.counts for part in parts]),
        burdens=np.concatenate([part.burdens for part in parts]),
        offsets=np.concatenate([part.offsets for part in parts]),
        begun=np.concatenate([part.begun for part in parts]),
    )


def _beginnings(problem: Problem, stock: Stock, deadline: Deadline) -> _Beginnings | None:
    rows: list[tuple[int, ...]] = []
    # Two wear pieces, or one and a step with its body.
    most = 3 if stock.body_of else 2
    for index, demand in enumerate(problem.demands):
        for ends in _ends(stock, demand):
            first = _beginning(problem, stock, index, ends)
            rows.append((*first, *ends, *[-1] * (most - len(ends))))
            if len(rows) > deadline.tuning.most_starts:
                return None
            # Only what takes long looks at the clock: one start for each demand takes no time.
            if len(rows) % deadline.tuning.starts_a_look == 0 and deadline.passed:
                return None
    table = np.array(rows, dtype=np.int64).reshape(len(rows), 6 + most)
    return _Beginnings(
        demands=table[:, 0],
        low=table[:, 1],
        high=table[:, 2],
        counts=table[:, 3],
        burdens=table[:, 4],
        offsets=table[:, 5],
        begun=table[:, 6:],
    )


def _ends(stock: Stock, demand: Demand) -> Iterator[tuple[int, ...]]:
    """Kinds of wear pieces, each choice also with a step and its body."""
    kinds = range(stock.gauges, stock.steps)
    for choice in combinations_with_replacement(kinds, demand.wear):
        if all(choice.count(kind) <= stock.capacities[kind] for kind in choice):
            yield choice
            for step in range(stock.steps, stock.bodies) if demand.step else ():
                yield (*choice, *stock.with_body(step))


def _beginning(
    problem: Problem, stock: Stock, index: int, ends: tuple[int, ...]
) -> tuple[int, ...]:
    demand: Demand = problem.demands[index]
    length = sum(int(stock.nominals[kind]) for kind in ends)
    shift = sum(int(stock.deviations[kind]) for kind in ends)
    # Every piece brings a joint, and a stack has one joint fewer than pieces.
    burden = sum(int(stock.burdens[kind]) for kind in ends) - problem.joint_cost
    # Ends alone may be a stack; without them it has at least one gauge piece.
    low = max(demand.low - length, 0 if ends else 1)
    offset = problem.off(index, length) + shift
    count = sum(kind < stock.bodies for kind in ends)
    return (index, low, demand.high - length, count, burden, offset)


class _Sums(Struct, frozen=True, kw_only=True):
    """What pieces of the grids add up to, by grid.

    Attributes:
        first: whether so many steps of the first grid do.
        others: each sum of one length of every other grid, in their steps.
        lengths: these sums, quanta.
    """

    first: Bools
    others: Ints
    lengths: Ints


class _Split(Struct, frozen=True, kw_only=True):
    """Lengths split into one sum of each grid: of which beginnings, and the steps by grid."""

    rows: Ints
    steps: Ints


def _splits(layout: Layout, begun: _Beginnings, tuning: Tuning) -> Iterator[_Split | None]:
    """All of them, some at a time; None where there are too many."""
    if len(layout.steps) == 1:
        yield _whole(begun, layout.steps[0], tuning)
        return
    known = _sums(layout, int(begun.high.max(initial=0)), tuning)
    if known is None:
        yield None
        return
    sums_at_once = min(len(known.lengths), tuning.sums_at_once)
    rows_at_once = max(tuning.sums_at_once // sums_at_once, 1)
    for begin in range(0, max(len(begun.low), 1), rows_at_once):
        rows = np.arange(begin, min(begin + rows_at_once, len(begun.low)))
        for first in range(0, len(known.lengths), sums_at_once):
            others = slice(first, first + sums_at_once)
            yield _completed(known, others, begun, rows, layout.steps[0], tuning)


def _whole(begun: _Beginnings, step: int, tuning: Tuning) -> _Split | None:
    """Each length of an only grid, whose table says what cannot be built; None if too many."""
    first = -(-begun.low // step)
    counts = np.maximum(begun.high // step - first + 1, 0)
    total = int(counts.sum())
    if total > tuning.most_sums_of_grids:
        return None
    rows = counts.nonzero()[0]
    if total == len(rows):
        # Exact lengths, as most are.
        return _Split(rows=rows, steps=first[rows][:, None])
    before = np.cumsum(counts) - counts
    steps = np.arange(total) + np.repeat(first - before, counts)
    return _Split(rows=np.repeat(np.arange(len(counts)), counts), steps=steps[:, None])


def _completed(  # noqa: PLR0913, PLR0917 - the parts of one question
    known: _Sums, others: slice, begun: _Beginnings, own: Ints, step: int, tuning: Tuning
) -> _Split | None:
    """What the first grid adds to the sums of the others; None if there are too many."""
    lengths = known.lengths[others]
    first = -(-np.maximum(begun.low[own, None] - lengths, 0) // step)
    last = np.minimum((begun.high[own, None] - lengths) // step, len(known.first) - 1)
    counts = np.maximum(last - first + 1, 0)
    total = int(counts.sum())
    if total > tuning.most_sums_of_grids:
        return None
    row, other = counts.nonzero()
    many = counts[row, other]
    row, other = np.repeat(row, many), np.repeat(other, many)
    place = np.arange(total) - np.repeat(np.cumsum(many) - many, many)
    steps = first[row, other] + place
    keep = known.first[steps]
    row, other = row[keep], other[keep]
    return _Split(rows=own[row], steps=np.column_stack([steps[keep], known.others[others][other]]))


def _sums(layout: Layout, longest: int, tuning: Tuning) -> _Sums | None:
    """None if there are too many."""
    reach = layout.reach(longest)
    if max(reach) > tuning.most_cells:
        return None
    others, lengths = np.zeros((1, 0), np.int64), np.zeros(1, np.int64)
    sizes: list[list[int]] = [[] for _ in reach]
    for level in layout.levels:
        sizes[level.grid] += (level.lengths * level.step).tolist()
    for own, step, most in list(zip(sizes, layout.steps, reach, strict=True))[1:]:
        more = reached(own, None, most).nonzero()[0]
        if len(more) * len(lengths) > tuning.most_sums_of_grids:
            return None
        both = (lengths[:, None] + more * step).ravel()
        others = np.column_stack([np.repeat(others, len(more), axis=0), np.tile(more, len(others))])
        order = np.flatnonzero(both <= longest)
        others, lengths = others[order], both[order]
    return _Sums(first=reached(sizes[0], None, reach[0]), others=others, lengths=lengths)
