"""A plan from the restricted master: its solution is rounded column by column.

What it takes nearly whole, or else what it takes most of, is taken for good, and it is solved
again. Where it then serves too few, columns are priced for the demands that are left, without the
pieces that are used up (a diving heuristic: Sadykov, Vanderbeck, Pessoa, Tahiri and Uchoa, *INFORMS
Journal on Computing* 31, 2019).
"""

import numpy as np
from msgspec.structs import replace

from wrung.deadline import Deadline
from wrung.planning.candidates.walk import Candidates
from wrung.planning.candidates.workbench import Prices
from wrung.planning.pricing.master import Master
from wrung.planning.pricing.prices import Priced
from wrung.planning.pricing.question import Question


def dive(
    question: Question, priced: Priced, deadline: Deadline, *, some: bool = False
) -> Candidates | None:
    """A plan of the columns and some more, if one is found; with ``some``, it may serve fewer."""
    # Where its columns serve too few even in parts, there is nothing to round.
    if priced.plan is not None or priced.master.lacking:
        return priced.plan
    found = _Dive(question, priced.master).run(deadline)
    as_many = len(found) == question.served.total
    own_blocks = question.blocks in (None, int(found.counts.sum()))
    return found if some or (as_many and own_blocks) else None


class _Dive:
    """What is taken already, and what that leaves of the pieces in each clique."""

    def __init__(self, question: Question, master: Master) -> None:
        self._question, self._master = question, master
        self._taken: list[int] = []
        bench = question.bench
        self._there = np.tile(bench.stock.capacities, (len(bench.problem.cliques), 1))

    def run(self, deadline: Deadline) -> Candidates:
        """A plan; the columns taken where they serve fewer than asked for."""
        for _ in range(2 * len(self._question.bench.problem.demands)):
            solved = self._master.solve(deadline)
            if solved is None:
                break
            if (plan := self._master.plan) is not None:
                return plan
            if not self._master.lacking:
                self._take(deadline.tuning.nearly_whole)
            elif not self._price(solved[1]) and not self._master.programme.raise_artificials():
                break
        return self._master.pool.where(np.array(self._taken, np.int64))

    def _take(self, part: float) -> None:
        """The columns that the solution takes to this part, or else the one it takes most of."""
        parts = self._master.programme.parts.copy()
        parts[self._taken] = 0.0
        nearly: list[int] = np.flatnonzero(parts >= part).tolist()
        for column in nearly or [int(np.argsort(parts, kind="stable")[-1])]:
            fits = self._fits(column)
            self._master.programme.take(column, float(fits), float(fits))
            self._taken += [column] if fits else []

    def _fits(self, column: int) -> bool:
        bench, pool = self._question.bench, self._master.pool
        own = pool.kinds[column]
        used = np.bincount(own[own >= 0], minlength=self._there.shape[1])
        cliques = bench.cliques_of[bench.group_of[pool.demands[column]]] > 0
        fits = not (used > self._there[cliques]).any()
        if fits:
            self._there[cliques] -= used
        return fits

    def _price(self, prices: Prices) -> bool:
        """Columns for the demands that are left; whether there are new ones."""
        bench, tuning = self._question.bench, self._question.bench.deadline.tuning
        served = self._master.pool.demands[self._taken]
        rows = np.flatnonzero(~np.isin(bench.starts.demands, served))
        by_clique = np.array(prices.by_clique)
        by_clique[self._there <= 0] = self._master.highest
        own = replace(prices, by_clique=tuple(by_clique))
        search = self._question.beginning(rows).search(own)
        # What costs as much as a demand that is not served is of no use.
        useful = min(self._master.artificial, self._master.highest)
        window, most = self._question.window, tuning.most_partial_priced
        found = search.cheapest(window, most, self._master.pool, useful).candidates
        costs = search.costs(found)
        order = np.argsort(costs, kind="stable")
        return self._master.add(found.where(order[costs[order] < useful]), tuning.new_each)
