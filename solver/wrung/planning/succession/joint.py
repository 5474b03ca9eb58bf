# The solver's own sums carry no types.
# pyright: reportUnknownMemberType=false
"""All stacks at once, where sequences and other stacks contend for the same blocks."""

from collections.abc import Sequence

import numpy as np
from ortools.sat.python import cp_model

from wrung.planning.candidates.stock import Ints
from wrung.planning.deadline import Deadline
from wrung.planning.finding import Totals
from wrung.planning.selection.choice import Aim, Choice, Selection
from wrung.planning.succession.pool import Pool


class ChangingChoice(Choice):
    """A choice for every demand, no worse than some values, that counts the blocks that change."""

    def __init__(self, pool: Pool, values: Totals, pairs: Sequence[tuple[int, int]]) -> None:
        super().__init__(pool.bench, pool.candidates, served=len(pool.bench.problem.demands))
        self.limit_sum(pool.candidates.counts, values.blocks)
        self.limit_sum(pool.candidates.errors, values.total_error)
        self._pool = pool
        self._stays = [stay for pair in pairs for stay in self._stay(*pair)]
        self._weights = np.zeros(len(pool.bench.problem.demands), np.int64)
        # A stack between two others counts in both pairs, which a plain `+=` would miss.
        np.add.at(self._weights, [demand for pair in pairs for demand in pair], 1)

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

    def _stay(self, before: int, after: int) -> list[cp_model.IntVar]:
        """A variable for each place that both stacks can use: 1 only where both do."""
        used = self._pool.used
        rows = [self._by_demand[demand] for demand in (before, after)]
        shared = used[rows[0]].any(axis=0) & used[rows[1]].any(axis=0)
        return [self._stays_at(place, rows) for place in np.flatnonzero(shared).tolist()]

    def _stays_at(self, place: int, rows: Sequence[Sequence[int]]) -> cp_model.IntVar:
        stay = self._model.new_bool_var("")
        for own in rows:
            users = [self._chosen[row] for row in own if self._pool.used[row, place]]
            self._model.add(stay <= sum(users))
        return stay

    def _set_objective(self, aim: Aim, costs: Ints) -> None:
        del aim
        self._model.minimize(self._changes(costs))

    def _changes(self, costs: Ints) -> cp_model.LinearExpr:
        """Blocks of both stacks of each pair, less those that stay, which are of both."""
        return self._sum(costs) - 2 * sum(self._stays)
