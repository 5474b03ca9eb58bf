"""Which pieces form which grid, see `layout`: so that tables are small and splits few."""

from functools import lru_cache

import numpy as np
from msgspec import Struct

from wrung.deadline import Deadline
from wrung.planning.candidates.layout import Layout, common_steps, laid_out, steps_of
from wrung.planning.candidates.stock import Bools, Floats, Ints, Stock
from wrung.tuning import Tuning


class _Pieces(Struct, frozen=True, kw_only=True):
    """Kinds of pieces, and the stacks that are made of them.

    Attributes:
        lengths: of each kind, quanta.
        copies: pieces of each kind.
        longest: length of the longest stack.
        stacks: how many.
        tuning: what a split and a cell are worth.
    """

    lengths: Ints
    copies: Ints
    longest: int
    stacks: int
    tuning: Tuning


class _Parting(Struct, frozen=True, kw_only=True):
    """Pieces in grids: the grid of each kind, what this makes, and the work of it, in cells."""

    grids: Ints
    layout: Layout
    work: float


def lay_out(stock: Stock, longest: int, deadline: Deadline, stacks: int = 1) -> Layout:
    """The gauge pieces by grids and levels, for so many stacks of up to so many quanta.

    There may be fewer grids than were best where the time is up.
    """
    tuning = deadline.tuning
    pieces = _Pieces(
        lengths=stock.nominals[: stock.gauges],
        copies=stock.capacities[: stock.gauges],
        longest=max(longest, 1),
        stacks=stacks,
        tuning=tuning,
    )
    best = _parting(pieces, np.zeros(stock.gauges, np.int64))
    while best.work > tuning.cells_for_one_grid and len(best.layout.steps) < tuning.most_grids:
        # Of a thousand lengths, each grid takes some 20 ms.
        more = None if deadline.passed else _with_one_more(pieces, best)
        # A further grid makes every walk longer, so it has to save much.
        if more is None or 2 * more.work > best.work:
            break
        best = more
    return best.layout


def _parting(pieces: _Pieces, grids: Ints) -> _Parting:
    several = bool(grids.any())
    if several:
        # Splits go through all grids but the first, so the first is the one with the most steps.
        whole = np.bincount(grids, weights=pieces.lengths * pieces.copies)
        steps = np.minimum(whole, pieces.longest) // steps_of(pieces.lengths, grids)
        order = np.argsort(-steps, kind="stable")
        grids = np.argsort(order)[grids]
    layout = laid_out(
        pieces.lengths.tobytes(), pieces.copies.tobytes(), grids.tobytes(), pieces.tuning
    )
    reached = layout.reach(pieces.longest)
    work = float(layout.cells(reached))
    if several:
        sums = _sums(np.array(reached, np.float64), np.bincount(grids, weights=pieces.copies))
        work += float(_looks(pieces, sums.prod(), np.gcd.reduce(layout.steps)))
    return _Parting(grids=grids, layout=layout, work=work)


def _sums(reached: Floats, count: Floats | Ints) -> Floats:
    """No grid has more sums: one a multiple of its step, and one a choice among so many pieces."""
    # More choices than there are 64-bit numbers are no limit.
    return np.minimum(reached + 1.0, np.exp2(np.minimum(count, 64)))


def _looks(pieces: _Pieces, combined: Floats, step: Ints) -> Floats:
    """The work of looking at all splits, in cells.

    So many sums of all grids are spread over the multiples of their common step.
    """
    splits = np.maximum(combined * step / pieces.longest, 1.0)
    return pieces.tuning.cells_a_split * pieces.stacks * splits


def _with_one_more(pieces: _Pieces, parting: _Parting) -> _Parting | None:
    """The grid of the most cells in two; None where its lengths have only one step."""
    layout, reached = parting.layout, parting.layout.reach(pieces.longest)
    cells = [(v.last - v.first + 1) * (reached[v.grid] // v.step) for v in layout.levels]
    widest = int(np.argmax(np.bincount([level.grid for level in layout.levels], cells)))
    own = np.flatnonzero(parting.grids == widest)
    apart = _apart(pieces, pieces.lengths[own], pieces.copies[own])
    if apart is None:
        return None
    grids = parting.grids.copy()
    grids[own[apart]] = len(layout.steps)
    return _parting(pieces, grids)


def _apart(pieces: _Pieces, lengths: Ints, copies: Ints) -> Bools | None:
    """Those to put on a grid of their own, by a rough count of cells: all of a table's finest."""
    one_step, rest_step, together = _steps_tried(lengths.tobytes(), pieces.tuning)
    if not len(one_step):
        return None
    count = np.stack([together @ copies, ~together @ copies]).astype(float)
    whole = np.stack([together @ (lengths * copies), ~together @ (lengths * copies)])
    step = np.stack([one_step, rest_step])
    reached = np.minimum(whole, pieces.longest) / step
    sums = _sums(reached, count).prod(axis=0)
    work = (reached * count).sum(axis=0) + _looks(pieces, sums, np.gcd(one_step, rest_step))
    apart: Bools = together[int(np.argmin(work))]
    return apart


@lru_cache(maxsize=64)
def _steps_tried(length_bytes: bytes, tuning: Tuning) -> tuple[Ints, Ints, Bools]:
    """Steps, those that the other lengths have in common, and which lengths are multiples."""
    lengths = np.frombuffer(length_bytes, dtype=np.int64)
    tried = common_steps(length_bytes, tuning)
    together = lengths % tried[:, None] == 0
    together = np.unique(together[~together.all(axis=1)], axis=0)
    of_multiples = np.gcd.reduce(np.where(together, lengths, 0), axis=1)
    of_others = np.gcd.reduce(np.where(together, 0, lengths), axis=1)
    return of_multiples, of_others, together
