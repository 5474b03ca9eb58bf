"""The restricted master: the linear programme over the candidates seen, whose duals are prices."""

from collections.abc import Iterator, Sequence

import numpy as np

from wrung.deadline import Deadline
from wrung.planning.candidates.stock import Floats, Ints, join_rows
from wrung.planning.candidates.walk import Candidates, distinct_rows, first_rows, no_candidates
from wrung.planning.candidates.workbench import FREE, Prices
from wrung.planning.pricing.question import Question
from wrung.planning.selection.choice import usages
from wrung.planning.selection.programme import Programme


class Master:
    """Fractional candidates, each demand at most once; it begins with those of a pool.

    So many are served of each class. With ``blocks``, they have that many blocks in all.

    Attributes:
        pool: its columns.
        programme: over these.
        highest: no price is higher: any prices prove a bound, but those of a stack may not add up
            to the mark of what is unbuildable.
    """

    def __init__(self, question: Question, pool: Candidates) -> None:
        self._question, self._bench, self._goal = question, question.bench, question.goal
        bench, goal = self._bench, self._goal
        # Divided by this, costs are of a size that suits floating point.
        self._unit = max(float(np.abs(goal.sides[-1].pieces).mean()), 1.0)
        self.highest = FREE // (4 * len(bench.problem.pieces))
        by_group = [np.flatnonzero(row).tolist() for row in bench.cliques_of]
        self._cliques: list[list[int]] = [by_group[group] for group in bench.group_of.tolist()]
        self._capacities: list[float] = bench.stock.capacities.astype(float).tolist()
        # Made when a candidate uses it: there may be thousands of cliques and of kinds.
        self._uses = self._uses_of(pool)
        self._entries = len(self._uses)
        dearest = float((np.abs(goal.sides[0].pieces) * bench.stock.capacities).sum())
        self.programme = Programme(
            question.served,
            [self._capacities[kind] for _, kind in self._uses],
            dearest / self._unit,
            bench.deadline.tuning,
        )
        # Too few blocks have an artificial column, and too many one of the other sign. Demands that
        # are not served yet have blocks too, which no other stacks should make up for.
        self._counted = (
            None
            if question.blocks is None
            else self.programme.equation(float(question.blocks), (1.0, -1.0), free=1.0)
        )
        self.pool = no_candidates()
        self.add(pool, len(pool))

    def _uses_of(self, pool: Candidates) -> dict[tuple[int, int], int]:
        """The rows that the pool needs, by clique and kind."""
        uses: dict[tuple[int, int], int] = {}
        used = [set[int]() for _ in self._bench.problem.demands]
        for demand, kinds in zip(pool.demands.tolist(), pool.kinds.tolist(), strict=True):
            used[demand] |= {kind for kind in kinds if kind >= 0}
        for clique, members in enumerate(self._bench.problem.cliques):
            if self._full(len(uses)):
                break
            for kind in sorted(set[int]().union(*(used[member] for member in members))):
                uses[clique, kind] = len(uses)
        return uses

    def add(self, candidates: Candidates, each: int) -> bool:
        """Offer the first so many of each demand that are new; whether there are any.

        Any prices will do, so those beyond time or room are left out.
        """
        new = self._unseen(candidates, each)
        costs = self._goal.costs(new) / self._unit
        self.programme.begin(float(np.abs(costs).max(initial=1.0)))
        rows = zip(new.demands.tolist(), new.kinds.tolist(), costs.tolist(), strict=True)
        before = len(self.programme)
        for demand, kinds, cost in rows:
            # Where sequences meet, one column may be in a thousand cliques.
            if self._full(self._entries):
                break
            self.programme.column(cost, demand, self._used(demand, kinds))
        added = len(self.programme) - before
        self.pool = join_rows([self.pool, new.where(np.arange(added))])
        return added > 0

    def _unseen(self, candidates: Candidates, most_each: int) -> Candidates:
        """The first few of each demand that are not in the pool, as they come."""
        new = distinct_rows(join_rows([self.pool, candidates])) - len(self.pool)
        new = new[new >= 0]
        return candidates.where(np.sort(new[first_rows(candidates.demands[new], most_each)]))

    def _used(self, demand: int, kinds: Sequence[int]) -> Iterator[tuple[int, float]]:
        """The rows that a candidate uses, and how much of them."""
        used = [kind for kind in kinds if kind >= 0]
        for clique in self._cliques[demand]:
            for kind in set(used):
                yield self._use(clique, kind), float(used.count(kind))
        if self._counted is not None:
            yield self._counted, float(sum(kind < self._bench.stock.bodies for kind in used))

    def _full(self, entries: int) -> bool:
        """Whether there is no time, or no room, for more."""
        until, tuning = self._bench.deadline, self._bench.deadline.tuning
        # At least one, so that it holds where no time is left.
        short = until.remaining < max(entries, 1) * tuning.seconds_a_master_entry
        return short or not until.memory.room(entries * tuning.bytes_a_master_entry)

    def _use(self, clique: int, kind: int) -> int:
        """The row that says: no more pieces of the kind at a time than there are."""
        row = self._uses.get((clique, kind))
        if row is None:
            row = self._uses[clique, kind] = self.programme.row(self._capacities[kind])
        self._entries += 1
        return row

    def solve(self, deadline: Deadline) -> tuple[int, Prices] | None:
        """Its value and the prices, rounded down to the goal's unit; None if it gave up."""
        if not self.programme.solve(deadline):
            return None
        duals = -self.programme.duals() * self._unit
        value = int(self.programme.value * self._unit)
        each = 0 if self._counted is None else int(duals[self._counted])
        each = min(max(each, -self.highest), self.highest)
        blocks = self._question.blocks or 0
        return value, Prices(by_clique=self._by_clique(duals), each=each, blocks=blocks)

    def _by_clique(self, duals: Floats) -> tuple[Ints, ...]:
        shape = (len(self._bench.problem.cliques), len(self._capacities))
        prices = np.zeros(shape, np.int64)
        if self._uses:
            clique, kind = np.array(list(self._uses)).T
            # A dual value may be a hair below 0, but only prices of 0 or more prove a bound.
            own = np.clip(duals[list(self._uses.values())], 0.0, self.highest)
            prices[clique, kind] = own.astype(np.int64)
        return tuple(prices)

    @property
    def plan(self) -> Candidates | None:
        """Its last solution, if that is a plan."""
        taken = None if self.lacking else self.programme.whole()
        if taken is None:
            return None
        question, plan = self._question, self.pool.where(taken)
        # It comes in floating point, so it is checked in whole numbers.
        demands_once = len(np.unique(plan.demands)) == len(plan)
        as_many = self._bench.counts(plan.demands) == question.served.counts
        own_blocks = question.blocks in (None, int(plan.counts.sum()))
        overdrawn = any(True for _ in usages(self._bench, plan))
        return plan if demands_once and as_many and own_blocks and not overdrawn else None

    @property
    def lacking(self) -> bool:
        """Whether its solution serves too few demands, or has too few or too many blocks."""
        return bool(self.programme.lacking)

    @property
    def artificial(self) -> int:
        """What a demand that is not served costs as yet."""
        return int(min(self.programme.artificial * self._unit, FREE))
