"""Searches for candidates by cost: the cheapest of each demand, or all within a limit."""

from collections.abc import Sequence
from typing import Final

import numpy as np
from msgspec import Struct

from wrung.planning.candidates.goals import Goal, Side
from wrung.planning.candidates.stock import NEVER, Ints
from wrung.planning.candidates.tables import TABLES, build_table
from wrung.planning.candidates.walk import (
    Candidates,
    Limit,
    enumerate_candidates,
    join_candidates,
    no_candidates,
    total_over_kinds,
)
from wrung.planning.candidates.workbench import FREE, Prices, Workbench

MOST_PARTIAL: Final = 300_000
"""Partial stacks that one search may make before it gives up."""


_MOST_PARTIAL_STRAIGHT: Final = 3_000
"""For each demand."""

_BEAM: Final = 1_000


class Cap(Struct, frozen=True, kw_only=True):
    """A goal that may not cost more than ``most``, by demand, whatever is searched for."""

    goal: Goal
    most: Ints


class Cheapest(Struct, frozen=True, kw_only=True):
    """The least cost of each demand, `NEVER` where it cannot be built, and what was seen.

    Where the search was too large to be exact, no candidate costs less than ``least``.
    """

    least: Ints
    exact: bool
    candidates: Candidates


def cap_limits(bench: Workbench, cap: Cap) -> list[Limit]:
    """The cap as limits over all starts."""
    most = cap.most[bench.starts.demands]
    return [
        Limit(
            table=TABLES.get(
                bench.layout, side.pieces[bench.layout.kinds], bench.reach, bench.deadline
            ),
            spent=side.starts,
            most=most,
        )
        for side in cap.goal.sides
    ]


def priced_costs(bench: Workbench, goal: Goal, prices: Prices, candidates: Candidates) -> Ints:
    """What the candidates cost by the goal, with what their pieces cost beside it."""
    costs = goal.costs(candidates)
    for group in bench.groups:
        price = bench.price_for(group[0], prices)
        if price.any():
            own = np.isin(candidates.demands, group)
            costs = np.where(own, costs + total_over_kinds(candidates.kinds, price), costs)
    return costs


class Search:
    """Candidates of a workbench by a goal and prices, within caps."""

    def __init__(
        self, bench: Workbench, goal: Goal, prices: Prices, caps: Sequence[Cap] = ()
    ) -> None:
        self._bench = bench
        self._goal = goal
        self._prices = prices
        self._caps = caps
        self._standing = [limit for cap in caps for limit in cap_limits(bench, cap)]
        self._rows = [
            np.flatnonzero(np.isin(bench.starts.demands, group)) for group in bench.groups
        ]
        self._limits = [
            [self._limit(side, bench.price_for(group[0], prices), rows) for side in goal.sides]
            for group, rows in zip(bench.groups, self._rows, strict=True)
        ]

    def _limit(self, side: Side, price: Ints, rows: Ints) -> Limit:
        bench = self._bench
        costs = (side.pieces + price)[bench.layout.kinds]
        if price.any():
            # Prices belong to this search alone; kept, they would crowd lasting tables out.
            table = build_table(bench.layout, costs, bench.reach, bench.deadline)
        else:
            table = TABLES.get(bench.layout, costs, bench.reach, bench.deadline)
        worn = total_over_kinds(bench.starts.wear[rows], price)
        return Limit(table=table, spent=side.starts[rows] + worn, most=np.zeros(0, np.int64))

    def costs(self, candidates: Candidates) -> Ints:
        """Goal and prices of each candidate."""
        return priced_costs(self._bench, self._goal, self._prices, candidates)

    def within(
        self, most: Ints, most_partial: int = MOST_PARTIAL, beam: int | None = None
    ) -> Candidates | None:
        """All candidates that cost no more than ``most``, by demand; None if they are too many.

        With ``beam``, only some of them.
        """
        parts: list[Candidates] = []
        for rows, limits in zip(self._rows, self._limits, strict=True):
            part = self._enumerate(rows, limits, most, most_partial, beam)
            if part is None:
                return None
            parts.append(part)
        found = join_candidates(parts)
        # Limits hold the sums of gauge pieces; the cost itself is what is asked for.
        keep = self.costs(found) <= most[found.demands]
        for cap in self._caps:
            keep &= cap.goal.costs(found) <= cap.most[found.demands]
        return found.where(keep)

    def _enumerate(
        self,
        rows: Ints,
        limits: Sequence[Limit],
        most: Ints,
        most_partial: int,
        beam: int | None,
    ) -> Candidates | None:
        bench = self._bench
        starts = bench.starts.where(rows)
        own = most[starts.demands]
        full = [Limit(table=v.table, spent=v.spent, most=own) for v in limits]
        full += [limit.where(rows) for limit in self._standing]
        return enumerate_candidates(
            bench.stock, bench.layout, starts, full, most_partial, bench.deadline, beam=beam
        )

    def floors(self) -> Ints:
        """By demand, what no candidate can cost less than; `NEVER` where none can be built."""
        floors = np.full(len(self._bench.problem.demands), NEVER, np.int64)
        for rows, limits in zip(self._rows, self._limits, strict=True):
            starts = self._bench.starts.where(rows)
            # Each side is a lower bound by itself, so the largest of them is one too.
            least = np.max([limit.least(starts) for limit in limits], axis=0)
            for limit in (standing.where(rows) for standing in self._standing):
                least = np.where(limit.least(starts) > limit.most, NEVER, least)
            np.minimum.at(floors, starts.demands, least)
        # Costs added to `NEVER` move it a little, but nowhere near a real cost.
        return np.where(floors >= FREE, NEVER, floors)

    def cheapest(
        self, first_window: int, most_partial: int = MOST_PARTIAL, known: Candidates | None = None
    ) -> Cheapest:
        """The least cost of each demand, or a bound on it where the search grows too large.

        The limit rises from what no candidate can cost less than, but not beyond the cost of one
        that is ``known``.
        """
        floors = self.floors()
        ceilings = self._ceilings(known)
        if (straight := self._straight(floors, ceilings)) is not None:
            return straight
        bounds, open_ = floors.copy(), floors < NEVER
        found = [no_candidates()]
        window = np.full(len(floors), first_window)
        while open_.any():
            limit = np.where(open_, np.minimum(floors + window, ceilings), -1)
            wider = self.within(limit, most_partial)
            if wider is None:
                some = self.within(limit, most_partial, _BEAM) or no_candidates()
                return Cheapest(
                    least=bounds, exact=False, candidates=join_candidates([*found, some])
                )
            # A limit up to a known candidate shows all that is cheaper: its cost will do.
            least = np.where((limit >= ceilings) & (ceilings < FREE), ceilings, NEVER)
            np.minimum.at(least, wider.demands, self.costs(wider))
            closed = open_ & ((least < NEVER) | (limit >= FREE))
            found.append(wider.where(closed[wider.demands]))
            # Nothing is within an open demand's limit, and costs are whole numbers.
            bounds = np.where(closed, least, np.where(open_, limit + 1, bounds))
            open_ &= ~closed
            # The 1 lets a window of nothing grow, too.
            window += window // 2 + np.abs(floors) // 32 + 1
        return Cheapest(least=bounds, exact=True, candidates=join_candidates(found))

    def _straight(self, floors: Ints, ceilings: Ints) -> Cheapest | None:
        """All up to the cheapest candidates known, if those are not many."""
        open_ = floors < NEVER
        if (ceilings >= FREE)[open_].any():
            return None
        found = self.within(np.where(open_, ceilings, -1), _MOST_PARTIAL_STRAIGHT * len(floors))
        if found is None:
            return None
        least = np.where(open_, ceilings, NEVER)
        np.minimum.at(least, found.demands, self.costs(found))
        return Cheapest(least=least, exact=True, candidates=found)

    def _ceilings(self, known: Candidates | None) -> Ints:
        """By demand, the cost of the cheapest candidate known."""
        ceilings = np.full(len(self._bench.problem.demands), FREE)
        if known is not None:
            np.minimum.at(ceilings, known.demands, self.costs(known))
        return ceilings
