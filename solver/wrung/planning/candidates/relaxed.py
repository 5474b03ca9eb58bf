"""What stacks within a limit cost at least in prices, and some that cost little.

The limited cost of a stack is no less than any of the sides of its goal, so no less than any mean
of them. A bound may add any multiple of what a mean exceeds the limit by, as that is never positive
(Lagrangian relaxation: Geoffrion, *Mathematical Programming Study* 2, 1974). Each such sum has a
table, which gives the least of it for every start, and one stack that has it. Which sum bounds a
start best depends on the start: one that is too long needs blocks that are too short.
"""

from collections.abc import Sequence
from typing import Final

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from wrung.planning.candidates.goals import Goal, Side
from wrung.planning.candidates.stock import NEVER, Ints
from wrung.planning.candidates.supply import Tables
from wrung.planning.candidates.tables import Table
from wrung.planning.candidates.walk import Candidates, Limit, no_candidates
from wrung.planning.candidates.workbench import FREE, Workbench, list_candidates

_WEIGHTS: Final = ((0, 4, 8), (2, 6), (3, 7), (1, 5))
"""By variant, how much of a mean is another side than the first, in eighths."""
_MULTIPLES: Final = ((1, 4, 16), (2, 8, 32))
"""How often what exceeds a limit counts, in quarters."""

VARIANTS: Final = len(_WEIGHTS)

_BETWEEN: Final = (2, 4, 6)
"""The same as `_WEIGHTS`, for sides that limit a list."""


class Paid(Struct, frozen=True, kw_only=True):
    """Prices, and what some starts pay.

    Attributes:
        bench: with these starts alone.
        rows: which of all starts they are.
        prices: by way to price, and by kind.
        ways: which way is that of each start.
        begun: what each pays for the pieces that it begins with.
    """

    bench: Workbench
    rows: Ints
    prices: Ints
    ways: Ints
    begun: Ints


def mixed(goal: Goal) -> Goal:
    """The same cost with more sides, means of two, which rule out what neither of them does."""
    first, others = goal.sides[0], goal.sides[1:]
    between = (_sum(first, other, part, 4, 0) for other in others for part in _BETWEEN)
    return replace(goal, sides=(*goal.sides, *between))


def means(goal: Goal, limit: Ints, variant: int) -> tuple[Side, ...]:
    """Sums that no stack within a limit, by start, makes more than 0.

    They are what means of the sides exceed the limit by, so many times; the first is always 0. Of
    those that there could be, the ``variant``, below `VARIANTS`, says which.
    """
    first, others = goal.sides[0], goal.sides[1:]
    return (
        _sum(first, first, 0, 0, 0),
        *(
            _sum(first, other, part, times, times * limit)
            for times in _MULTIPLES[variant % len(_MULTIPLES)]
            for other in others
            for part in _WEIGHTS[variant]
        ),
    )


def _sum(one: Side, other: Side, part: int, times: int, excess: Ints | int) -> Side:
    """So many eighths of the other side and the rest of the one, in quarters as many times.

    ``excess`` is taken off, in quarters.
    """
    pieces = times * ((8 - part) * one.pieces + part * other.pieces)
    starts = times * ((8 - part) * one.starts + part * other.starts)
    # Rounded down, each part says no more than is true.
    return Side(pieces=pieces // 32, starts=(starts - 8 * excess) // 32)


def relaxed(
    sums: Sequence[Side], paid: Paid, tables: Tables, rows: Ints, best: int
) -> tuple[Ints, Candidates]:
    """What some of these sums with prices bound, and stacks that meet the bounds.

    By start, no stack costs less, priced; `NEVER` where there is none. The stacks are of the starts
    ``rows``, meet so many of the best bounds of each, and may be above the limit. Of the sums, as
    many as one table has room for are used, the first ones.
    """
    bench, prices = paid.bench, paid.prices
    cells = bench.layout.cells(bench.reach) * len(prices)
    own = sums[: max(bench.deadline.tuning.relaxed_cells // max(cells, 1), 1)]
    costs = np.concatenate([side.pieces + prices for side in own])
    table = tables.of(costs[:, bench.layout.kinds], lasting=False)
    ways = paid.ways + len(prices) * np.arange(len(own))[:, None]
    least = np.stack([table.least(bench.starts.steps, way) for way in ways])
    spent = np.stack([side.starts[paid.rows] for side in own]) + paid.begun
    bounds = np.where(least >= FREE, NEVER, least + spent)
    order = np.argsort(-bounds[:, rows], axis=0, kind="stable")[:best]
    chosen = np.take_along_axis(ways[:, rows], order, axis=0).ravel()
    found = _least_of(bench.beginning(np.tile(rows, len(order))), table, chosen)
    return bounds.max(axis=0), found


def _least_of(bench: Workbench, table: Table, ways: Ints) -> Candidates:
    """One stack of each start that costs no more than any by this way to price; as far as known."""
    if table.cut or not len(ways):
        return no_candidates()
    least = table.least(bench.starts.steps, ways)
    limit = Limit(table=table, ways=ways, spent=np.zeros_like(least), most=least)
    most = bench.deadline.tuning.most_partial
    found = list_candidates(bench, [limit], most, beam=1, by_start=True)
    if found is None:
        return no_candidates()
    _, first = np.unique(found.starts, return_index=True)
    return found.candidates.where(first)
