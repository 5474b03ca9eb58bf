"""Searches for candidates by cost: the cheapest of each demand, or all within a limit."""

from collections.abc import Sequence
from functools import reduce

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from wrung.planning.candidates.goals import Goal
from wrung.planning.candidates.relaxed import VARIANTS, Paid, means, relaxed
from wrung.planning.candidates.stock import (
    NEVER,
    Bools,
    Ints,
    join_rows,
)
from wrung.planning.candidates.supply import Tables
from wrung.planning.candidates.walk import Candidates, Limit, no_candidates
from wrung.planning.candidates.workbench import FREE, Listing, Prices, Workbench, list_candidates


class Cap(Struct, frozen=True, kw_only=True):
    """A goal that may not cost more than ``most``, by demand, whatever is searched for."""

    goal: Goal
    most: Ints

    def where(self, rows: Ints) -> "Cap":
        """For some of the starts."""
        return replace(self, goal=self.goal.where(rows))


class Cheapest(Struct, frozen=True, kw_only=True):
    """The least cost of each demand, `NEVER` where it cannot be built, and the candidates seen.

    Where the search was too large to be exact, no candidate costs less than ``least``.
    """

    least: Ints
    exact: bool
    candidates: Candidates


def cap_limits(bench: Workbench, cap: Cap, tables: Tables) -> list[Limit]:
    """The cap as limits over all starts, one for each side of its goal."""
    most = cap.most[bench.starts.demands]
    return [
        Limit(
            table=tables.of(side.pieces[bench.layout.kinds][None], lasting=True),
            ways=np.zeros_like(most),
            spent=side.starts,
            most=most,
        )
        for side in cap.goal.sides
    ]


def _prices_paid(by_group: Ints, groups: Ints, kinds: Ints) -> Ints:
    """What the kinds of each row cost a demand of that row's group."""
    # An index of -1 finds the last element, the 0 that is put there for this.
    padded = np.concatenate([by_group, np.zeros((len(by_group), 1), np.int64)], axis=1)
    paid: Ints = padded[groups[:, None], kinds].sum(axis=1)
    return paid


class Search:
    """Candidates of a workbench by a goal and prices, within caps."""

    def __init__(
        self, bench: Workbench, goal: Goal, caps: Sequence[Cap] = (), prices: Prices | None = None
    ) -> None:
        """Without ``prices``, nothing has one."""
        self._bench = bench
        self._goal = goal
        self._by_group = bench.prices_by_group(prices or bench.no_prices())
        self._free = not self._by_group.any()
        self._caps = caps
        self._tables = Tables(bench.layout, bench.reach, bench.deadline)
        self._batches = self._batched()

    def _batched(self) -> list[Paid]:
        """Groups with the same prices share one table; as many as there is room for, one batch."""
        bench, starts = self._bench, self._bench.starts
        prices, ways = self._by_group, np.zeros_like(starts.demands)
        if len(prices) > 1:
            prices, way = np.unique(prices, axis=0, return_inverse=True)
            ways = way.reshape(-1)[bench.group_of[starts.demands]]
        paid = _prices_paid(prices, ways, starts.begun)
        room = max(bench.deadline.tuning.most_cells // max(bench.layout.cells(bench.reach), 1), 1)
        batches: list[Paid] = []
        for first in range(0, len(prices), room):
            own = prices[first : first + room]
            rows = np.flatnonzero((ways >= first) & (ways < first + len(own)))
            own_ways, begun = ways[rows] - first, paid[rows]
            part = bench if len(rows) == len(ways) else bench.beginning(rows)
            batches.append(Paid(bench=part, rows=rows, prices=own, ways=own_ways, begun=begun))
        return batches

    def _limits(self, batch: Paid, most: Ints) -> list[Limit]:
        """On the goal of these starts with their prices, one for each of its sides."""
        kinds = self._bench.layout.kinds
        return [
            Limit(
                # Prices belong to this search alone; cached, its tables would drive others out.
                table=self._tables.of((side.pieces + batch.prices)[:, kinds], lasting=self._free),
                ways=batch.ways,
                spent=side.starts[batch.rows] + batch.begun,
                most=most,
            )
            for side in self._goal.sides
        ]

    def _standing(self) -> list[Limit]:
        """Those of the caps, on all starts."""
        return [limit for cap in self._caps for limit in cap_limits(self._bench, cap, self._tables)]

    def costs(self, candidates: Candidates) -> Ints:
        """Goal and prices of each candidate."""
        groups = self._bench.group_of[candidates.demands]
        paid = _prices_paid(self._by_group, groups, candidates.kinds)
        return self._goal.costs(candidates) + paid

    def listed(self, each: int, most: int) -> Listing | None:
        """Candidates within the caps, from so many partial stacks of a start at a time.

        None past ``most`` partial stacks or the deadline.
        """
        found = list_candidates(self._bench, self._standing(), most, beam=each, by_start=True)
        if found is None:
            return None
        keep = self._keeps(found.candidates)
        return replace(found, candidates=found.candidates.where(keep), starts=found.starts[keep])

    def within(
        self, most: Ints, most_partial: int | None = None, beam: int | None = None
    ) -> Candidates | None:
        """All candidates that cost no more than ``most``, by demand; None if there are too many.

        With ``beam``, only some of them.
        """
        tuning = self._bench.deadline.tuning
        partial = tuning.most_partial if most_partial is None else most_partial
        standing, parts = self._standing(), list[Candidates]()
        for batch in self._batches:
            own = self._limits(batch, most[batch.bench.starts.demands])
            limits = [*own, *(limit.where(batch.rows) for limit in standing)]
            found = list_candidates(batch.bench, limits, partial, beam=beam)
            if found is None:
                return None
            parts.append(found.candidates)
        return self._kept(join_rows(parts), most)

    def _kept(self, found: Candidates, most: Ints) -> Candidates:
        # Limits only bound the sums over gauge pieces; what is asked for is the cost itself.
        return found.where(self._keeps(found) & (self.costs(found) <= most[found.demands]))

    def _keeps(self, found: Candidates) -> Bools:
        """Which keep to the caps."""
        keep = np.ones(len(found), np.bool_)
        for cap in self._caps:
            keep &= cap.goal.costs(found) <= cap.most[found.demands]
        return keep

    def least_by_start(self) -> Ints:
        """By start, a lower bound on the cost of candidates; `NEVER` where none can be built."""
        least = np.full(len(self._bench.starts), NEVER, np.int64)
        for batch in self._batches:
            # Each side is a lower bound by itself, so the largest of them is one too.
            limits = self._limits(batch, batch.begun)
            sides = [limit.least(batch.bench.starts) for limit in limits]
            least[batch.rows] = reduce(np.maximum, sides)
        for limit in self._standing():
            least = np.where(limit.least(self._bench.starts) > limit.most, NEVER, least)
        # Costs added to `NEVER` move it a little, but nowhere near a real cost.
        return np.where(least >= FREE, NEVER, least)

    def floors(self) -> Ints:
        """By demand, a lower bound on the cost of candidates; `NEVER` where none can be built."""
        floors = np.full(len(self._bench.problem.demands), NEVER, np.int64)
        np.minimum.at(floors, self._bench.starts.demands, self.least_by_start())
        return floors

    def cheapest(
        self,
        first_window: int,
        most_partial: int | None = None,
        known: Candidates | None = None,
        dearest: int = FREE,
    ) -> Cheapest:
        """The least cost of each demand, or a bound on it where the search grows too large.

        The limit rises from a lower bound on the cost, but not beyond the cost of a candidate that
        is ``known``, or beyond ``dearest``: where nothing costs less, that is the bound.
        """
        floors = self.floors()
        ceilings = np.full(len(floors), min(dearest, FREE))
        if known is not None:
            np.minimum.at(ceilings, known.demands, self.costs(known))
        # Where only blocks and prices count, some stack costs no more than the floor anyway.
        rough = known is not None and self._goal.errors
        if rough and (straight := self._straight(floors, ceilings)) is not None:
            return straight
        bounds, open_ = floors.copy(), floors < NEVER
        found: list[Candidates] = []
        window = np.full(len(floors), first_window)
        while any(open_.tolist()):
            limit = np.where(open_, np.minimum(floors + window, ceilings), -1)
            wider = self.within(limit, most_partial)
            if wider is None:
                some = self.within(limit, most_partial, self._bench.deadline.tuning.beam)
                found += [] if some is None else [some]
                seen = join_rows(found or [no_candidates()])
                return Cheapest(least=bounds, exact=False, candidates=seen)
            # A limit at the cost of a known candidate is high enough: it shows all that is cheaper.
            least = np.where((limit >= ceilings) & (ceilings < FREE), ceilings, NEVER)
            np.minimum.at(least, wider.demands, self.costs(wider))
            closed = open_ & ((least < NEVER) | (limit >= FREE))
            found.append(wider.where(closed[wider.demands]))
            # Nothing is within an open demand's limit, and costs are whole numbers.
            bounds = np.where(closed, least, np.where(open_, limit + 1, bounds))
            open_ &= ~closed
            # The 1 lets a window of width 0 grow, too.
            window += window // 2 + np.abs(floors) // 32 + 1
        whole = join_rows(found or [no_candidates()])
        return Cheapest(least=bounds, exact=True, candidates=whole)

    def relaxed_by_start(
        self, cap: Cap, rows: Ints, variant: int, best: int
    ) -> tuple[Ints, Candidates]:
        """By start, no stack within the cap costs less; and some within it of the chosen starts.

        The goal is one where only prices count.
        """
        least, found = self.least_by_start(), [no_candidates()]
        most = cap.most[self._bench.starts.demands]
        for batch in self._batches:
            sums = means(cap.goal, most, variant % VARIANTS)
            chosen = np.flatnonzero(np.isin(batch.rows, rows))
            bounds, some = relaxed(sums, batch, self._tables, chosen, best)
            least[batch.rows] = np.maximum(least[batch.rows], bounds)
            found.append(some)
        return least, self._kept(join_rows(found), np.full_like(cap.most, FREE))

    def _straight(self, floors: Ints, ceilings: Ints) -> Cheapest | None:
        """All candidates up to the cheapest ones known, if there are not many."""
        open_ = floors < NEVER
        if (ceilings >= FREE)[open_].any():
            return None
        each = self._bench.deadline.tuning.most_partial_straight
        found = self.within(np.where(open_, ceilings, -1), each * len(floors))
        if found is None:
            return None
        least = np.where(open_, ceilings, NEVER)
        np.minimum.at(least, found.demands, self.costs(found))
        return Cheapest(least=least, exact=True, candidates=found)
