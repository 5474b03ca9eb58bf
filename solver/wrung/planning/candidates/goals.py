"""What a candidate stack costs, as the larger of sums over its pieces.

The error of a stack holds an absolute value, |offset + deviations|. It is the larger of two plain
sums, one with the deviations added and one with them taken off, so that tables of sums can bound it
from both sides without loss. Their mean, the margins alone, is a third sum that often prunes more.
Where the offset counts squared, tangents to the square take the place of the two.
"""

from typing import Final

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from wrung.planning.candidates.starts import Starts
from wrung.planning.candidates.stock import Ints, Stock
from wrung.planning.candidates.walk import Candidates
from wrung.planning.problem import Problem

BLOCK: Final = 1 << 20
"""Cost of one block where blocks alone count; prices are whole fractions of it."""

_MOST_BEFORE_ERRORS: Final = 1 << 46
"""A thousand blocks of this cost still fit into a table."""


class Side(Struct, frozen=True, kw_only=True):
    """One of the sums: a cost by kind of piece, and one by start."""

    pieces: Ints
    starts: Ints


class Goal(Struct, frozen=True, kw_only=True):
    """A cost of stacks, never less than any of its sides.

    It is ``blocks * count + errors * error``.
    """

    sides: tuple[Side, ...]
    blocks: int = 0
    errors: int = 0

    def costs(self, candidates: Candidates) -> Ints:
        """Cost of each candidate."""
        return self.blocks * candidates.counts + self.errors * candidates.errors

    def where(self, rows: Ints) -> "Goal":
        """For some of the starts."""
        sides = tuple(Side(pieces=side.pieces, starts=side.starts[rows]) for side in self.sides)
        return replace(self, sides=sides)

    @property
    def free(self) -> "Goal":
        """Where only prices count."""
        pieces, starts = np.zeros_like(self.sides[0].pieces), np.zeros_like(self.sides[0].starts)
        return Goal(sides=(Side(pieces=pieces, starts=starts),))


def block_goal(stock: Stock, starts: Starts) -> Goal:
    """Number of blocks, times `BLOCK`."""
    each = Side(pieces=np.full(len(stock.nominals), BLOCK), starts=BLOCK * starts.counts)
    return Goal(sides=(each,), blocks=BLOCK)


def error_goal(stock: Stock, starts: Starts, *, blocks: int = 0, signs: bool = False) -> Goal:
    """Error by the measure of the problem; plus ``blocks`` for each block.

    With exact targets the mean alone is a tight bound, and one table is quicker than three;
    ``signs`` asks for all three nevertheless.
    """
    pieces = stock.burdens + blocks
    begun = starts.burdens + blocks * starts.counts
    if not stock.deviates:
        # Without deviations no piece changes the offset of a start: its error is known at once.
        exact = Side(pieces=pieces, starts=stock.errors(starts.offsets, begun))
        return Goal(sides=(exact,), blocks=blocks, errors=1)
    mean = Side(pieces=pieces, starts=begun)
    both = signs or bool(starts.offsets.any())
    # Variances alone would let through far too many stacks that are far off.
    slopes = _slopes(stock, starts) if stock.squares else (1,) if both else ()
    lines = (
        Side(
            pieces=pieces + slope * stock.deviations,
            starts=begun + slope * starts.offsets - (25 * slope * slope if stock.squares else 0),
        )
        for size in slopes
        for slope in (size, -size)
    )
    return Goal(sides=(mean, *lines), blocks=blocks, errors=1)


def _slopes(stock: Stock, starts: Starts) -> tuple[int, ...]:
    """Slopes of tangents where good stacks may be, and where stacks lie well inside a window.

    A line below the square of the offset, as (x / 10)² is never less than m x - 25 m², touches it
    at 50 m; measured on certified sets, the first does most.
    """
    near = max(int(stock.usual_deviation) // 150, 1)
    far = int(np.abs(starts.offsets).max(initial=0)) // 100
    return (near, far) if far > near else (near,)


def worst_error(stock: Stock, starts: Starts) -> int:
    """No stack has a larger error."""
    off, burdens = np.abs(starts.offsets), np.abs(starts.burdens)
    begun = stock.errors(stock.most_off + off, stock.most_burdens + burdens)
    return int(begun.max(initial=0))


def objective_goal(problem: Problem, stock: Stock, starts: Starts, *, signs: bool) -> Goal:
    """What stacks by themselves are compared by: their error, after their blocks if these count."""
    few = problem.objective == "fewest_blocks"
    block = before_errors(worst_error(stock, starts)) if few else 0
    return error_goal(stock, starts, blocks=block, signs=signs)


def before_errors(worst: int) -> int:
    """The cost of a block that is a little above the worst error of any stack.

    Not far above, as tables of small costs are quicker; and a power of two, so that requests for
    other targets usually find their tables in the cache.
    """
    return min(1 << worst.bit_length(), _MOST_BEFORE_ERRORS)


def first_window(stock: Stock) -> int:
    """How far a least error is likely to lie above the plain sum of margins, quanta."""
    off = int(stock.usual_deviation * 3 // 10)
    return off * off // 50 if stock.squares else off
