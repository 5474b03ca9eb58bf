# The solver's wrapper is generated and carries no types.
# pyright: reportUnknownMemberType=false, reportUnknownVariableType=false
# pyright: reportUnknownArgumentType=false, reportMissingTypeStubs=false
"""The linear programme whose dual values are the prices of the pieces."""

from typing import Final

import numpy as np
from ortools.linear_solver import pywraplp

from wrung.deadline import Deadline
from wrung.planning.candidates.goals import Goal
from wrung.planning.candidates.quota import Quota
from wrung.planning.candidates.stock import Ints
from wrung.planning.candidates.walk import Candidates
from wrung.planning.candidates.workbench import FREE, Prices, Workbench
from wrung.planning.selection.artificial import Artificial, raise_all, solved
from wrung.planning.solvers import new_linear_solver

_NOTHING: Final = 1e-6


class Master:
    """The linear programme: fractional candidates, each demand at most once.

    So many are served of each class. With ``blocks``, they have that many blocks in all. It begins
    with the candidates of a pool.
    """

    def __init__(
        self,
        bench: Workbench,
        goal: Goal,
        pool: Candidates,
        served: Quota,
        blocks: int | None = None,
    ) -> None:
        self._bench = bench
        self._goal = goal
        # Divided by this, costs are of a size that suits floating point.
        self._unit = max(float(np.abs(goal.sides[-1].pieces).mean()), 1.0)
        # Any prices prove a bound, but no stack's prices may add up to the mark of what is
        # unbuildable.
        self._highest = FREE // (4 * len(bench.problem.pieces))
        self._solver = new_linear_solver()
        nothing = -self._solver.infinity()
        self._capacities: list[float] = bench.stock.capacities.astype(float).tolist()
        # Made when a candidate uses it: there may be thousands of cliques and of kinds.
        self._uses: list[dict[int, pywraplp.Constraint]] = [{} for _ in bench.problem.cliques]
        by_group = [np.flatnonzero(row).tolist() for row in bench.cliques_of]
        self._cliques: list[list[int]] = [by_group[group] for group in bench.group_of.tolist()]
        self._entries = 0
        self._add_uses(pool)
        self._once = [self._solver.Constraint(nothing, 1.0) for _ in bench.problem.demands]
        self._class_of: list[int] = served.classes.tolist()
        self._served = [self._solver.Constraint(float(n), float(n)) for n in served.counts]
        self._objective = self._solver.Objective()
        self._objective.SetMinimization()
        self._columns: list[pywraplp.Variable] = []
        self._blocks = blocks
        self._counted = self._solver.Constraint(float(blocks or 0), float(blocks or 0))
        tuning, dearest = bench.deadline.tuning, self._dearest_artificial()
        self._artificials = [
            Artificial(self._solver, row, dearest, tuning=tuning) for row in self._served
        ]
        if blocks is not None:
            # Too few blocks have one too, and too many one of the other sign.
            self._artificials += [
                Artificial(
                    self._solver,
                    self._counted,
                    dearest,
                    sign=sign,
                    tuning=tuning,
                )
                for sign in (1.0, -1.0)
            ]
        self.add(pool)

    def _add_uses(self, pool: Candidates) -> None:
        """The rows that the pool needs, before all others.

        Which of equally good prices the solver comes to depends on the order of rows: with these
        rows last, pricing took up to twice as many rounds.
        """
        for clique, members in enumerate(self._bench.problem.cliques):
            if self._full():
                return
            used = np.unique(pool.kinds[np.isin(pool.demands, members)])
            for kind in used[used >= 0].tolist():
                self._use(clique, kind)

    def _dearest_artificial(self) -> float:
        """More than any plan costs, so that they are the last resort."""
        side = self._goal.sides[0].pieces
        return 200.0 * float((np.abs(side) * self._bench.stock.capacities).sum()) / self._unit + 1

    def _variable(self, cost: float) -> pywraplp.Variable:
        variable = self._solver.NumVar(0.0, self._solver.infinity(), "")
        self._objective.SetCoefficient(variable, cost)
        return variable

    def add(self, candidates: Candidates) -> None:
        """Offer more candidates; any prices will do, so those beyond time or room are left out."""
        costs = self._goal.costs(candidates) / self._unit
        # At first one costs as much as a few stacks.
        for each in self._artificials:
            each.begin(3.0 * float(np.abs(costs).max(initial=1.0)))
        rows = zip(
            candidates.demands.tolist(), candidates.kinds.tolist(), costs.tolist(), strict=True
        )
        for row, (demand, kinds, cost) in enumerate(rows, start=1):
            if row % self._bench.deadline.tuning.columns_a_look == 0 and self._full():
                return
            variable = self._variable(cost)
            self._columns.append(variable)
            self._once[demand].SetCoefficient(variable, 1.0)
            self._served[self._class_of[demand]].SetCoefficient(variable, 1.0)
            used = [kind for kind in kinds if kind >= 0]
            if self._blocks is not None:
                self._counted.SetCoefficient(variable, float(len(used)))
            for clique in self._cliques[demand]:
                uses = self._uses[clique]
                for kind in set(used):
                    # A call that most of the time would only find what is known.
                    use = uses[kind] if kind in uses else self._use(clique, kind)
                    use.SetCoefficient(variable, float(used.count(kind)))
                self._entries += len(used)

    def _full(self) -> bool:
        """Whether there is no time, or no room, for more."""
        until = self._bench.deadline
        return until.passed or not until.memory.room(
            self._entries * until.tuning.bytes_a_master_entry
        )

    def _use(self, clique: int, kind: int) -> pywraplp.Constraint:
        """The row that says: no more pieces of the kind at a time than there are."""
        uses = self._uses[clique]
        if kind not in uses:
            nothing = -self._solver.infinity()
            uses[kind] = self._solver.Constraint(nothing, self._capacities[kind])
            self._entries += 1
        return uses[kind]

    def solve(self, deadline: Deadline) -> tuple[int, Prices] | None:
        """Its value and the prices, rounded down to the goal's unit; None if it gave up."""
        if not solved(self._solver, deadline):
            return None
        # A dual value may be a hair below 0, but only prices of 0 or more prove a bound.
        prices = tuple(self._prices(rows) for rows in self._uses)
        value = int(self._objective.Value() * self._unit)
        if self._blocks is None:
            return value, Prices(by_clique=prices)
        each = min(max(self._price(self._counted), -self._highest), self._highest)
        return value, Prices(by_clique=prices, each=each, blocks=self._blocks)

    def _prices(self, rows: dict[int, pywraplp.Constraint]) -> Ints:
        prices = np.zeros(len(self._capacities), np.int64)
        for kind, row in rows.items():
            prices[kind] = min(max(self._price(row), 0), self._highest)
        return prices

    def _price(self, row: pywraplp.Constraint) -> int:
        return int(-row.dual_value() * self._unit)

    def whole(self) -> Ints | None:
        """The candidates that its solution takes, in their order; None if any is fractional."""
        parts = np.array([column.solution_value() for column in self._columns])
        taken = np.rint(parts)
        return np.flatnonzero(taken) if (np.abs(parts - taken) < _NOTHING).all() else None

    @property
    def lacking(self) -> bool:
        """Whether its solution serves too few demands, or has too few or too many blocks."""
        return any(each.there for each in self._artificials)

    def raise_artificials(self) -> bool:
        """Raise the cost of demands that are not served; whether that may change something."""
        return raise_all(self._artificials)
