"""What a candidate stack costs, as the larger of sums over its pieces.

The worst-case error holds an absolute value, |offset + deviations|. It is the larger of two plain
sums, one with the deviations added and one with them taken off, so that tables of sums can limit
it from both sides without loss. Their mean, the margins alone, is a third that often cuts more.
"""

from typing import Final

import numpy as np
from msgspec import Struct

from wrung.planning.candidates.stock import Ints, Starts, Stock
from wrung.planning.candidates.walk import Candidates

BLOCK: Final = 1 << 20
"""Cost of one block where blocks alone count; prices are whole fractions of it."""

BLOCK_BEFORE_ERRORS: Final = 1 << 44
"""Cost of one block where blocks count before errors; above any worst-case error of a stack."""


class Side(Struct, frozen=True, kw_only=True):
    """One of the sums: a cost by kind of piece, and one by start."""

    pieces: Ints
    starts: Ints


class Goal(Struct, frozen=True, kw_only=True):
    """A cost of stacks, never less than any of its sides.

    It is ``blocks * count + errors * error + excess * (error - limit)``, the last only where the
    error is above the limit.
    """

    sides: tuple[Side, ...]
    blocks: int = 0
    errors: int = 0
    excess: int = 0
    limit: int = 0

    def costs(self, candidates: Candidates) -> Ints:
        """Cost of each candidate."""
        costs = self.blocks * candidates.counts + self.errors * candidates.errors
        if self.excess:
            costs = costs + self.excess * np.maximum(candidates.errors - self.limit, 0)
        return costs


def block_goal(stock: Stock, starts: Starts) -> Goal:
    """Number of blocks, times `BLOCK`."""
    each = Side(pieces=np.full(len(stock.nominals), BLOCK), starts=BLOCK * starts.counts)
    return Goal(sides=(each,), blocks=BLOCK)


def error_goal(stock: Stock, starts: Starts, *, blocks: int = 0, signs: bool = False) -> Goal:
    """Worst-case error, quanta; plus ``blocks`` for each block.

    With exact targets the mean alone is a close bound, and one table is quicker than three;
    ``signs`` asks for all three all the same.
    """
    pieces = stock.burdens + blocks
    begun = starts.burdens + blocks * starts.counts
    if not stock.deviations[: stock.gauges].any():
        return Goal(sides=(_exact(pieces, begun, starts),), blocks=blocks, errors=1)
    mean = Side(pieces=pieces, starts=begun)
    both = signs or bool(starts.offsets.any())
    sides = (mean, *_both_signs(stock, starts, pieces, begun)) if both else (mean,)
    return Goal(sides=sides, blocks=blocks, errors=1)


def _exact(pieces: Ints, begun: Ints, starts: Starts) -> Side:
    return Side(pieces=pieces, starts=begun + np.abs(starts.offsets))


def _both_signs(stock: Stock, starts: Starts, pieces: Ints, begun: Ints) -> tuple[Side, Side]:
    return (
        Side(pieces=pieces + stock.deviations, starts=begun + starts.offsets),
        Side(pieces=pieces - stock.deviations, starts=begun - starts.offsets),
    )


def excess_goal(error: Goal, limit: int, excess: int) -> Goal:
    """The errors, with ``excess`` times as much for all that is above the limit."""
    beyond = tuple(
        Side(
            pieces=(1 + excess) * side.pieces,
            starts=(1 + excess) * side.starts - excess * limit,
        )
        for side in error.sides
    )
    return Goal(sides=(*error.sides, *beyond), errors=1, excess=excess, limit=limit)


def first_window(stock: Stock) -> int:
    """How far above its plain sum of margins a least error is likely to lie, quanta."""
    deviations = np.abs(stock.deviations[: stock.gauges])
    return int(deviations.mean() * 3 // 10) if len(deviations) else 0
