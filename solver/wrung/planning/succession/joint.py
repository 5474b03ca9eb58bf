# The solver's own sums carry no types.
# pyright: reportUnknownMemberType=false
"""All stacks at once, where sequences and other stacks compete for the same blocks."""

from collections.abc import Sequence

import numpy as np
from ortools.sat.python import cp_model

from wrung.deadline import Deadline
from wrung.planning.candidates.stock import Ints
from wrung.planning.finding import Totals
from wrung.planning.selection.choice import Aim, Choice, Selection
from wrung.planning.succession.counting import Step
from wrung.planning.succession.pool import Pool


class ChangingChoice(Choice):
    """A choice for every demand, no worse than some values, that counts the blocks that change."""

    def __init__(self, pool: Pool, values: Totals, pairs: Sequence[tuple[Step, Step]]) -> None:
        everyone = pool.bench.quota(pool.bench.problem.sizes)
        super().__init__(pool.bench, pool.candidates, served=everyone)
        self.limit_sum(pool.candidates.counts, values.blocks)
        self.limit_sum(pool.candidates.errors, values.total_error)
        self._pool = pool
        self._stays = [stay for pair in pairs for stay in self._stay(*pair)]
        self._weights = np.zeros(len(pool.bench.problem.demands), np.int64)
        steps = [step for pair in pairs for step in pair]
        # A step between two others counts in both pairs, which a plain `+=` would miss.
        np.add.at(self._weights, [demand for step in steps for demand in step], 1)

    def fewest_changes(
        self, least: int, start: Ints, deadline: Deadline, effort: float
    ) -> Selection:
        """The choice with the fewest changes, where no fewer than ``least`` are possible."""
        costs = self._weights[self.candidates.demands] * self.candidates.counts
        self._model.add(self._changes(costs) >= least)
        self._begin_with(start)
        return self.solve("least_sum", costs, deadline, effort=effort)

    def _begin_with(self, rows: Ints) -> None:
        chosen = np.isin(np.arange(len(self._chosen)), rows)
        for x, value in zip(self._chosen, chosen.tolist(), strict=True):
            self._model.add_hint(x, value)

    def _stay(self, before: Step, after: Step) -> list[cp_model.IntVar]:
        """A variable for each kind that both steps can use: how many pieces of it stay at most."""
        uses = self._pool.uses
        rows = [[r for d in step for r in self._by_demand[d]] for step in (before, after)]
        shared = uses[rows[0]].any(axis=0) & uses[rows[1]].any(axis=0)
        return [self._stays_of(kind, rows) for kind in np.flatnonzero(shared).tolist()]

    def _stays_of(self, kind: int, rows: Sequence[Sequence[int]]) -> cp_model.IntVar:
        uses = self._pool.uses[:, kind]
        stay = self._model.new_int_var(0, int(self._pool.bench.stock.capacities[kind]), "")
        for own in rows:
            used = [self._chosen[row] * int(uses[row]) for row in own if uses[row]]
            self._model.add(stay <= sum(used))
        return stay

    def _set_objective(self, aim: Aim, costs: Ints) -> None:
        del aim
        self._model.minimize(self._changes(costs))

    def _changes(self, costs: Ints) -> cp_model.LinearExpr:
        """Blocks of both steps of each pair, less those that stay, which are of both."""
        return self._sum(costs) - 2 * sum(self._stays)
