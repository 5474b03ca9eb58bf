"""A stock laid out for one problem: what all searches for candidates work on."""

from typing import Final

import numpy as np
from msgspec import Struct

from wrung.planning.candidates.stock import NEVER, Ints, Starts, Stock, starts_of
from wrung.planning.candidates.tables import MOST_CELLS, Layout, lay_out
from wrung.planning.deadline import Deadline
from wrung.planning.problem import Problem

FREE: Final = NEVER // 4
"""As a limit: no limit, short of what cannot be built."""


class Prices(Struct, frozen=True, kw_only=True):
    """What the use of a piece costs beside the goal: the master's duals.

    Attributes:
        by_crowd: by crowd and kind.
        each: of any piece, where plans have so many ``blocks``; it may be negative.
    """

    by_crowd: tuple[Ints, ...]
    each: int = 0
    blocks: int = 0


class Workbench(Struct, frozen=True, kw_only=True):
    """A problem with its stock, the ways to begin, and the layout of its tables.

    Attributes:
        reach: longest sum that the gauge pieces must make up, in steps of the stock.
        groups: demands that are members of the same crowds, so that prices are one for them all.
        deadline: ends every search.
    """

    problem: Problem
    stock: Stock
    starts: Starts
    layout: Layout
    reach: int
    groups: tuple[tuple[int, ...], ...]
    deadline: Deadline

    def no_prices(self) -> Prices:
        """Nothing has a price."""
        zero = np.zeros(len(self.stock.nominals), np.int64)
        return Prices(by_crowd=(zero,) * len(self.problem.crowds))

    def price_for(self, demand: int, prices: Prices) -> Ints:
        """Price of each kind for one demand: it pays in every crowd that it is a member of."""
        total = np.full(len(self.stock.nominals), prices.each)
        for crowd, price in zip(self.problem.crowds, prices.by_crowd, strict=True):
            if demand in crowd:
                total += price
        return total

    def rent(self, prices: Prices) -> int:
        """What all pieces together would cost in every crowd, and all blocks of a plan."""
        own = sum(int((price * self.stock.capacities).sum()) for price in prices.by_crowd)
        return own + prices.each * prices.blocks


def set_up(problem: Problem, stock: Stock, deadline: Deadline) -> Workbench | None:
    """Lay the stock out; None where its tables or its starts would be too many, or time is up."""
    if not stock.gauges or not problem.demands:
        return None
    starts = starts_of(problem, stock, deadline)
    if starts is None:
        return None
    layout, reach = lay_out(stock), int(starts.steps.max(initial=0))
    # Asked before any is made: lengths without a common step would fill the memory.
    if layout.cells(reach) > MOST_CELLS:
        return None
    return Workbench(
        problem=problem,
        stock=stock,
        starts=starts,
        layout=layout,
        reach=reach,
        groups=_groups(problem),
        deadline=deadline,
    )


def _groups(problem: Problem) -> tuple[tuple[int, ...], ...]:
    # Where prices are the same, tables are too: one a group, not one a demand.
    groups: dict[tuple[bool, ...], list[int]] = {}
    for demand in range(len(problem.demands)):
        member = tuple(demand in crowd for crowd in problem.crowds)
        groups.setdefault(member, []).append(demand)
    return tuple(tuple(group) for group in groups.values())
