"""Every way to begin a stack, and to split what is left of its length between the grids."""

from collections.abc import Iterator
from itertools import combinations_with_replacement

import numpy as np
from msgspec import Struct

from wrung.deadline import Deadline
from wrung.planning.candidates.layout import Layout
from wrung.planning.candidates.stock import Bools, Ints, Stock
from wrung.planning.problem import Demand, Problem
from wrung.subset_sums import sums
from wrung.tuning import Tuning


class Starts(Struct, frozen=True, kw_only=True):
    """Every way to begin a stack: its first pieces and the sums that gauge pieces still make up.

    The first pieces are its wear pieces, and where they are spelt out (see `workbench.spelt_out`)
    its finest gauge pieces as well.

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
    """Demands with their wear pieces: what is left for the gauge pieces lies in ``low..high``.

    ``offsets`` are of stacks whose gauge pieces have no length; the rest is as in `Starts`.
    """

    demands: Ints
    low: Ints
    high: Ints
    counts: Ints
    burdens: Ints
    offsets: Ints
    begun: Ints


def starts_of(problem: Problem, stock: Stock, layout: Layout, deadline: Deadline) -> Starts | None:
    """All starts that the stock's gauge pieces could complete; None if there are too many.

    Also None if the time is up before all are known.
    """
    begun = _beginnings(problem, stock, deadline)
    found = None if begun is None else _split(layout, begun, deadline)
    if begun is None or found is None:
        return None
    rows, steps = found
    off = begun.offsets[rows]
    if not problem.measure.corrected:
        off = off + steps @ np.array(layout.steps, np.int64)
    return Starts(
        demands=begun.demands[rows],
        steps=steps,
        counts=begun.counts[rows],
        burdens=begun.burdens[rows],
        offsets=off,
        begun=begun.begun[rows],
    )


def _beginnings(problem: Problem, stock: Stock, deadline: Deadline) -> _Beginnings | None:
    rows: list[tuple[int, ...]] = []
    for index, demand in enumerate(problem.demands):
        for wear in _wear_choices(stock, demand.wear):
            rows.append(_beginning(problem, stock, index, wear))
            if len(rows) > deadline.tuning.most_starts:
                return None
            # Only what takes long looks at the clock: one start for each demand takes no time.
            if len(rows) % deadline.tuning.starts_a_look == 0 and deadline.passed:
                return None
    table = np.array(rows, dtype=np.int64).reshape(len(rows), 8)
    return _Beginnings(
        demands=table[:, 0],
        low=table[:, 1],
        high=table[:, 2],
        counts=table[:, 3],
        burdens=table[:, 4],
        offsets=table[:, 5],
        begun=table[:, 6:8],
    )


def _wear_choices(stock: Stock, count: int) -> Iterator[tuple[int, ...]]:
    kinds = range(stock.gauges, len(stock.nominals))
    for choice in combinations_with_replacement(kinds, count):
        if all(choice.count(kind) <= stock.capacities[kind] for kind in choice):
            yield choice


def _beginning(
    problem: Problem, stock: Stock, index: int, wear: tuple[int, ...]
) -> tuple[int, ...]:
    demand: Demand = problem.demands[index]
    worn = sum(int(stock.nominals[kind]) for kind in wear)
    shift = sum(int(stock.deviations[kind]) for kind in wear)
    # Every piece brings a joint, and a stack has one joint fewer than pieces.
    burden = sum(int(stock.burdens[kind]) for kind in wear) - problem.joint_cost
    # Wear blocks alone may be a stack; without them it has at least one gauge piece.
    low = max(demand.low - worn, 0 if wear else 1)
    offset = problem.off(index, worn) + shift
    return (index, low, demand.high - worn, len(wear), burden, offset, *(*wear, -1, -1)[:2])


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


def _split(layout: Layout, begun: _Beginnings, deadline: Deadline) -> tuple[Ints, Ints] | None:
    """Each way to split a length into one sum of each grid: rows of the beginnings, and steps."""
    single = len(layout.steps) == 1
    tuning = deadline.tuning
    known = _sums(layout, int(begun.high.max(initial=0)), tuning)
    if known is None:
        return None
    rows: list[Ints] = []
    steps: list[Ints] = []
    total, most = 0, tuning.most_starts if single else tuning.most_splits
    # Without other grids, there is one sum to look at, of no pieces.
    at_once = max(tuning.most_sums_of_grids // len(known.lengths), 1)
    for begin in range(0, len(begun.low), at_once):
        own = np.arange(begin, min(begin + at_once, len(begun.low)))
        found = _completed(known, begun, own, layout.steps[0], most - total)
        if found is None or (not single and deadline.passed):
            return None
        total += len(found[0])
        rows.append(found[0])
        steps.append(found[1])
    if not rows:
        return np.zeros(0, np.int64), np.zeros((0, len(layout.steps)), np.int64)
    return np.concatenate(rows), np.concatenate(steps)


def _completed(
    known: _Sums, begun: _Beginnings, own: Ints, step: int, most: int
) -> tuple[Ints, Ints] | None:
    """What the first grid adds to the sums of the others; None if there are too many."""
    left_high = begun.high[own, None] - known.lengths
    first = -(-np.maximum(begun.low[own, None] - known.lengths, 0) // step)
    last = np.minimum(left_high // step, len(known.first) - 1)
    counts = np.maximum(last - first + 1, 0)
    total = int(counts.sum())
    # Of the first grid not every number of steps can be built.
    if total > 8 * most:
        return None
    row, other = counts.nonzero()
    many = counts[row, other]
    row, other = np.repeat(row, many), np.repeat(other, many)
    place = np.arange(total) - np.repeat(np.cumsum(many) - many, many)
    steps = first[row, other] + place
    keep = known.first[steps]
    if int(keep.sum()) > most:
        return None
    found = np.column_stack([steps[keep], known.others[other[keep]]])
    return own[row[keep]], found


def _sums(layout: Layout, longest: int, tuning: Tuning) -> _Sums | None:
    """None if there are too many."""
    sizes: list[list[int]] = [[] for _ in layout.steps]
    for level in layout.levels:
        sizes[level.grid] += (level.lengths * level.step).tolist()
    reach = [
        min(sum(own), max(longest, 0) // step)
        for own, step in zip(sizes, layout.steps, strict=True)
    ]
    if max(reach) > tuning.most_cells:
        return None
    if len(sizes) == 1:
        # Its table says what cannot be built.
        none = np.zeros((1, 0), np.int64)
        return _Sums(first=np.ones(reach[0] + 1, np.bool_), others=none, lengths=none.sum(axis=1))
    others, lengths = np.zeros((1, 0), np.int64), np.zeros(1, np.int64)
    for own, step, most in list(zip(sizes, layout.steps, reach, strict=True))[1:]:
        more = _buildable(own, most).nonzero()[0]
        if len(more) * len(lengths) > tuning.most_sums_of_grids:
            return None
        both = (lengths[:, None] + more * step).ravel()
        others = np.column_stack([np.repeat(others, len(more), axis=0), np.tile(more, len(others))])
        order = np.flatnonzero(both <= longest)
        others, lengths = others[order], both[order]
    return _Sums(first=_buildable(sizes[0], reach[0]), others=others, lengths=lengths)


def _buildable(sizes: list[int], most: int) -> Bools:
    """Whether some of the sizes add up to 0, 1 and so on to ``most``."""
    (bits,) = sums(sizes, None, most)
    octets = np.frombuffer(bits.to_bytes(most // 8 + 1, "little"), np.uint8)
    found: Bools = np.unpackbits(octets, bitorder="little")[: most + 1].astype(np.bool_)
    return found
