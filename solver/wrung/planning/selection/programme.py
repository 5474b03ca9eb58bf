# The solver's wrapper is generated and carries no types.
# pyright: reportUnknownMemberType=false, reportUnknownVariableType=false
# pyright: reportUnknownArgumentType=false, reportMissingTypeStubs=false
"""The linear programme over all columns of a packing, whose dual values are the row prices."""

from typing import TYPE_CHECKING, Final

import numpy as np
from msgspec import Struct

from wrung.deadline import Deadline
from wrung.planning.candidates.stock import Ints
from wrung.planning.selection.artificial import Artificial, raise_all, solved
from wrung.planning.selection.cuts import Floats
from wrung.planning.selection.set_packing import Rows, SetPacking, join_rows
from wrung.planning.solvers import new_linear_solver
from wrung.tuning import TUNING, Tuning

if TYPE_CHECKING:
    from ortools.linear_solver import pywraplp

_NOTHING: Final = 1e-6
_HIGHEST: Final = 1 << 50


class Parts(Struct, frozen=True, kw_only=True):
    """The best fractional choice of columns, and the prices of the rows, in the packing's scale."""

    parts: Floats
    prices: Ints


class Programme:
    """Holds few of the columns: others are added when their reduced costs show that they help."""

    def __init__(self, packing: SetPacking, tuning: Tuning = TUNING) -> None:
        self._tuning = tuning
        self._packing = packing
        # Divided by this, costs are of a size that suits floating point.
        self._unit = max(float(packing.costs.mean()), 1.0) / 100
        self._costs = packing.costs / self._unit
        self._solver = new_linear_solver()
        self._nothing = -self._solver.infinity()
        self._once = [self._solver.Constraint(self._nothing, 1.0) for _ in range(packing.offered)]
        self._class_of: list[int] = packing.quota.classes.tolist()
        self._served = [self._solver.Constraint(float(n), float(n)) for n in packing.quota.counts]
        self._objective = self._solver.Objective()
        self._objective.SetMinimization()
        dearest = 200.0 * (packing.dearest + 1) / self._unit
        self._artificials = [
            Artificial(self._solver, row, dearest, tuning=tuning) for row in self._served
        ]
        for artificial in self._artificials:
            artificial.begin(3.0 * float(self._costs.max(initial=1.0)))
        self._variables: list[pywraplp.Variable] = []
        self._columns: list[int] = []
        self._held = np.zeros(len(packing), np.bool_)
        self._rows: list[pywraplp.Constraint] = []
        self.rows = packing.rows
        self._open_rows(packing.rows)
        self._take_in(self._cheapest())

    def _open_rows(self, rows: Rows) -> None:
        self._rows += [self._solver.Constraint(self._nothing, float(n)) for n in rows.there]

    def add(self, rows: Rows) -> None:
        """More rows, over all columns."""
        first = len(self._rows)
        self._open_rows(rows)
        place = np.full(len(self._packing), -1)
        place[self._columns] = np.arange(len(self._columns))
        held = place[rows.column] >= 0
        entries = zip(
            rows.row[held].tolist(),
            place[rows.column[held]].tolist(),
            rows.times[held].tolist(),
            strict=True,
        )
        for row, at, times in entries:
            self._rows[first + row].SetCoefficient(self._variables[at], float(times))
        self.rows = join_rows(self.rows, rows)

    def _cheapest(self) -> Ints:
        """A few for each demand, to begin with."""
        order: Ints = np.lexsort((self._packing.costs, self._packing.demands))
        own = self._packing.demands[order]
        rank = np.arange(len(order)) - np.searchsorted(own, own)
        return order[rank < self._tuning.programme_each]

    def _take_in(self, columns: Ints) -> None:
        order = np.argsort(self.rows.column, kind="stable")
        own = self.rows.column[order]
        edges = zip(
            columns.tolist(),
            np.searchsorted(own, columns).tolist(),
            np.searchsorted(own, columns, "right").tolist(),
            strict=True,
        )
        row, times = self.rows.row[order].tolist(), self.rows.times[order].tolist()
        for column, first, end in edges:
            variable = self._solver.NumVar(0.0, self._solver.infinity(), "")
            self._objective.SetCoefficient(variable, float(self._costs[column]))
            demand = int(self._packing.demands[column])
            self._once[demand].SetCoefficient(variable, 1.0)
            self._served[self._class_of[demand]].SetCoefficient(variable, 1.0)
            for entry in range(first, end):
                self._rows[row[entry]].SetCoefficient(variable, float(times[entry]))
            self._variables.append(variable)
            self._columns.append(column)
        self._held[columns] = True

    def solve(self, deadline: Deadline) -> Parts | None:
        """Over all columns; None if it gave up or the time is up."""
        while solved(self._solver, deadline):
            duals = np.array([row.dual_value() for row in self._rows])
            new = self._helpful(duals)
            if len(new):
                self._take_in(new)
            elif not raise_all(self._artificials):
                return self._parts(duals)
        return None

    def _helpful(self, duals: Floats) -> Ints:
        """Columns not yet held that make the programme cheaper, the most helpful first."""
        rows = self.rows
        paid = np.bincount(rows.column, duals[rows.row] * rows.times, len(self._packing))
        served = np.array([row.dual_value() for row in self._served])
        once = np.array([row.dual_value() for row in self._once]) + served[self._class_of]
        reduced = self._costs - paid - once[self._packing.demands]
        new = np.flatnonzero((reduced < -_NOTHING) & ~self._held)
        return new[np.argsort(reduced[new], kind="stable")[: self._tuning.programme_more]]

    def _parts(self, duals: Floats) -> Parts:
        parts = np.zeros(len(self._packing))
        parts[self._columns] = [variable.solution_value() for variable in self._variables]
        prices = np.clip(-duals * self._unit * self._packing.scale, 0.0, self._highest())
        return Parts(parts=parts, prices=prices.astype(np.int64))

    def _highest(self) -> Floats:
        """Any prices of 0 or more prove a bound, but what a column pays must add up exactly."""
        most = np.ones(len(self.rows))
        np.maximum.at(most, self.rows.row, self.rows.times)
        return _HIGHEST / (most * (len(self.rows) + 1))
