# The solver's own sums carry no types.
# pyright: reportUnknownMemberType=false
"""All stacks at once, where sequences and other stacks compete for the same blocks."""

from collections.abc import Sequence

import numpy as np
from ortools.sat.python import cp_model

from wrung.planning.candidates.stock import Ints
from wrung.planning.candidates.walk import Candidates
from wrung.planning.candidates.workbench import Workbench
from wrung.planning.finding import Totals
from wrung.planning.selection.choice import Aim, Choice, Selection
from wrung.planning.succession.counting import Step, counted


class ChangingChoice(Choice):
    """A choice for every demand, no worse than some values, that counts the blocks that change."""

    def __init__(
        self,
        bench: Workbench,
        candidates: Candidates,
        values: Totals,
        pairs: Sequence[tuple[Step, Step]],
    ) -> None:
        super().__init__(bench, candidates, served=bench.quota(bench.problem.sizes))
        self.limit_sum(candidates.counts, values.blocks)
        self.limit_sum(candidates.errors, values.total_error)
        self._bench = bench
        self._uses = counted(candidates, len(bench.stock.nominals))
        self._stays = [stay for pair in pairs for stay in self._stay(*pair)]
        self._weights = np.zeros(len(bench.problem.demands), np.int64)
        steps = [step for pair in pairs for step in pair]
        # A step between two others counts in both pairs, which a plain `+=` would miss.
        np.add.at(self._weights, [demand for step in steps for demand in step], 1)

    def fewest_changes(self, start: Candidates, effort: float) -> Selection:
        """The choice with the fewest changes; the search begins with a choice."""
        uses = counted(start, self._uses.shape[1])
        begun = (self._uses == uses[self.candidates.demands]).all(axis=1)
        for x, value in zip(self._chosen, begun.tolist(), strict=False):
            self._model.add_hint(x, value)
        costs = self._weights[self.candidates.demands] * self.candidates.counts
        return self.solve("least_sum", costs, self._bench.deadline, effort=effort)

    def _stay(self, before: Step, after: Step) -> list[cp_model.IntVar]:
        """A variable for each kind that both steps can use: how many pieces of it stay at most."""
        rows = [[r for d in step for r in self._by_demand[d]] for step in (before, after)]
        shared = self._uses[rows[0]].any(axis=0) & self._uses[rows[1]].any(axis=0)
        return [self._stays_of(kind, rows) for kind in np.flatnonzero(shared).tolist()]

    def _stays_of(self, kind: int, rows: Sequence[Sequence[int]]) -> cp_model.IntVar:
        uses = self._uses[:, kind]
        stay = self._model.new_int_var(0, int(self._bench.stock.capacities[kind]), "")
        for own in rows:
            used = [self._chosen[row] * int(uses[row]) for row in own if uses[row]]
            self._model.add(stay <= sum(used))
        return stay

    def _set_objective(self, aim: Aim, costs: Ints) -> None:
        """Blocks of both steps of each pair, less those that stay, which are of both."""
        del aim
        self._model.minimize(self._sum(costs) - 2 * sum(self._stays))
