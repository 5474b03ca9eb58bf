"""Every way to begin a stack, and to split what is left of its length between the grids."""

from collections.abc import Iterator
from itertools import combinations_with_replacement

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from wrung.deadline import Deadline
from wrung.planning.candidates.layout import Layout
from wrung.planning.candidates.stock import (
    Bools,
    Ints,
    Rows,
    Stock,
    join_rows,
    total_over_kinds,
)
from wrung.planning.problem import Demand, Problem
from wrung.subset_sums import reached
from wrung.tuning import Tuning


class Starts(Rows, frozen=True, kw_only=True):
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

    steps: Ints
    counts: Ints
    burdens: Ints
    offsets: Ints
    begun: Ints

    def longer(self, stock: Stock, added: Ints, steps: Ints) -> "Starts":
        """With these kinds of gauge pieces put on, -1 for none, and what is left after that."""
        return Starts(
            demands=self.demands,
            steps=steps,
            counts=self.counts + (added >= 0).sum(axis=1),
            burdens=self.burdens + total_over_kinds(added, stock.burdens),
            offsets=self.offsets + total_over_kinds(added, stock.deviations),
            begun=np.concatenate([added, self.begun], axis=1),
        )


class _Begun(Struct, frozen=True, kw_only=True):
    """Demands with what their ends have: what is left for the gauge pieces lies in ``low..high``.

    The ``starts`` have no steps yet; their offsets are of stacks whose gauge pieces have no length.
    """

    starts: Starts
    low: Ints
    high: Ints


def starts_of(problem: Problem, stock: Stock, layout: Layout, deadline: Deadline) -> Starts | None:
    """All starts that the stock's gauge pieces could complete; None if there are too many.

    Also None if the time is up before all are known.
    """
    parts: list[Starts] = []
    left = most_starts(layout, deadline.tuning)
    for part in some_starts(problem, stock, layout, deadline):
        if part is None:
            return None
        parts.append(part)
        left -= len(part)
        # Only what takes long looks at the clock: one start for each demand takes no time.
        if left < 0 or (len(layout.steps) > 1 and deadline.passed):
            return None
    return join_rows(parts)


def most_starts(layout: Layout, tuning: Tuning) -> int:
    """How many are searched."""
    return tuning.most_starts if len(layout.steps) == 1 else tuning.most_splits


def some_starts(
    problem: Problem, stock: Stock, layout: Layout, deadline: Deadline
) -> Iterator[Starts | None]:
    """All starts, some at a time; None where even these are too many, or the time is up."""
    begun = _begun(problem, stock, deadline)
    sums = None if begun is None else _sums(layout, begun, deadline.tuning)
    if begun is None or sums is None:
        yield None
        return
    # In a wide window, one sum of the others leaves many to the first grid.
    wide = int((begun.high - begun.low).max(initial=0)) // layout.steps[0] + 1
    at_once = max(deadline.tuning.sums_at_once // wide, 1)
    pairs = len(begun.low) * len(sums.lengths)
    for first in range(0, max(pairs, 1), at_once):
        own = np.arange(first, min(first + at_once, pairs))
        row, other = np.divmod(own, len(sums.lengths))
        part = _completed(layout, begun, row, sums, other, deadline.tuning)
        if part is not None and not problem.measure.corrected:
            off = part.offsets + part.steps @ np.array(layout.steps, np.int64)
            part = replace(part, offsets=off)
        yield part


def _begun(problem: Problem, stock: Stock, deadline: Deadline) -> _Begun | None:
    rows: list[tuple[int, ...]] = []
    # Two wear pieces, or one and a step with its body.
    most = 3 if stock.body_of else 2
    for index, demand in enumerate(problem.demands):
        for ends in ends_of(stock, demand):
            first = beginning(problem, stock, index, ends)
            rows.append((*first, *ends, *[-1] * (most - len(ends))))
            if len(rows) > deadline.tuning.most_starts:
                return None
            # Only what takes long looks at the clock: one start for each demand takes no time.
            if len(rows) % deadline.tuning.starts_a_look == 0 and deadline.passed:
                return None
    table = np.array(rows, dtype=np.int64).reshape(len(rows), 6 + most)
    starts = Starts(
        demands=table[:, 0],
        steps=table[:, :0],
        counts=table[:, 3],
        burdens=table[:, 4],
        offsets=table[:, 5],
        begun=table[:, 6:],
    )
    return _Begun(starts=starts, low=table[:, 1], high=table[:, 2])


def ends_of(stock: Stock, demand: Demand) -> Iterator[tuple[int, ...]]:
    """Kinds of wear pieces, each choice also with a step and its body."""
    kinds = range(stock.gauges, stock.steps)
    for choice in combinations_with_replacement(kinds, demand.wear):
        if all(choice.count(kind) <= stock.capacities[kind] for kind in choice):
            yield choice
            for step in range(stock.steps, stock.bodies) if demand.step else ():
                yield (*choice, *stock.with_body(step))


def beginning(
    problem: Problem, stock: Stock, index: int, ends: tuple[int, ...]
) -> tuple[int, int, int, int, int, int]:
    """The start of a demand with these ends.

    Its index, the least and largest length left for gauge pieces, and as in `Starts` the count,
    burden and offset, of stacks whose gauge pieces have no length.
    """
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
        first: whether so many steps of the first grid do; None if its table is to say.
        others: each sum of one length of every other grid, in their steps.
        lengths: these sums, quanta.
    """

    first: Bools | None
    others: Ints
    lengths: Ints


def _completed(  # noqa: PLR0913, PLR0917 - the parts of one question
    layout: Layout, begun: _Begun, row: Ints, sums: _Sums, other: Ints, tuning: Tuning
) -> Starts | None:
    """What the first grid adds to these sums of the others; None if there are too many."""
    step, lengths = layout.steps[0], sums.lengths[other]
    least = -(-np.maximum(begun.low[row] - lengths, 0) // step)
    most = (begun.high[row] - lengths) // step
    if sums.first is not None:
        most = np.minimum(most, len(sums.first) - 1)
    counts = np.maximum(most - least + 1, 0)
    if counts.sum() > tuning.most_sums_of_grids:
        return None
    row, other, least = (np.repeat(each, counts) for each in (row, other, least))
    steps = least + np.arange(len(row)) - np.repeat(np.cumsum(counts) - counts, counts)
    if sums.first is not None:
        keep = sums.first[steps]
        row, other, steps = row[keep], other[keep], steps[keep]
    every = np.column_stack([steps, sums.others[other]])
    return replace(begun.starts.where(row), steps=every)


def _sums(layout: Layout, begun: _Begun, tuning: Tuning) -> _Sums | None:
    """None if there are too many."""
    others, lengths = np.zeros((1, 0), np.int64), np.zeros(1, np.int64)
    if len(layout.steps) == 1:
        return _Sums(first=None, others=others, lengths=lengths)
    longest = int(begun.high.max(initial=0))
    reach = layout.reach(longest)
    if max(reach) > tuning.most_cells:
        return None
    sizes: list[list[int]] = [[] for _ in reach]
    for level in layout.levels:
        sizes[level.grid] += (level.lengths * level.step).tolist()
    for own, step, most in list(zip(sizes, layout.steps, reach, strict=True))[1:]:
        more = reached(own, most).nonzero()[0]
        if len(more) * len(lengths) > tuning.most_sums_of_grids:
            return None
        both = (lengths[:, None] + more * step).ravel()
        others = np.column_stack([np.repeat(others, len(more), axis=0), np.tile(more, len(others))])
        order = np.flatnonzero(both <= longest)
        others, lengths = others[order], both[order]
    return _Sums(first=reached(sizes[0], reach[0]), others=others, lengths=lengths)
