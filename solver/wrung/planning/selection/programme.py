# The solver's wrapper is generated and carries no types.
# pyright: reportUnknownMemberType=false, reportUnknownVariableType=false
# pyright: reportUnknownArgumentType=false, reportMissingTypeStubs=false
"""The linear programme: the choice of columns with fractions allowed, whose duals are the prices.

A demand has at most one column, and so many are served of each class. What is missing is made up by
artificial columns. If these were expensive from the start, the first prices would be far too large
to find anything near the best plans, so their cost rises while they are used.
"""

from collections.abc import Iterable
from typing import TYPE_CHECKING, Final

import numpy as np

from wrung.deadline import Deadline
from wrung.planning.candidates.quota import Quota
from wrung.planning.candidates.stock import Floats, Ints
from wrung.planning.solvers import new_linear_solver, optimised
from wrung.tuning import TUNING, Tuning

if TYPE_CHECKING:
    from ortools.linear_solver import pywraplp

_SOME: Final = 1e-6
"""Of a column: less is none."""


class Programme:
    """Rows of capacities, and columns that use them; both may be added at any time.

    Attributes:
        parts: how much of each column the last solution takes.
        lacking: which artificial columns it uses.

    Args:
        quota: how many demands of each class are served.
        capacities: of the first rows. Which of equally good prices the solver comes to depends on
            the order of rows: with these last, pricing took up to twice as many rounds.
        dearest: no plan costs more.
        tuning: how the cost of artificial columns rises.
    """

    def __init__(
        self, quota: Quota, capacities: Iterable[float], dearest: float, tuning: Tuning = TUNING
    ) -> None:
        self._solver = new_linear_solver()
        self._objective = self._solver.Objective()
        self._objective.SetMinimization()
        self._tuning, self._dearest = tuning, tuning.artificial_dearest * dearest + 1
        self._rows: list[pywraplp.Constraint] = []
        self._artificials: list[pywraplp.Variable] = []
        self._costs: list[float] = []
        self._free = set[int]()
        self._least = 0.0
        self._variables: list[pywraplp.Variable] = []
        self.parts: Floats = np.zeros(0)
        self.lacking: list[int] = []
        for capacity in capacities:
            self.row(capacity)
        self._once = [self.row(1.0) for _ in quota.classes]
        own = [self.equation(float(count), (1.0,)) for count in quota.counts]
        self._served: list[int] = [own[number] for number in quota.classes.tolist()]

    def __len__(self) -> int:
        return len(self._variables)

    def row(self, capacity: float) -> int:
        """One more row, of which columns use no more than this: its number."""
        self._rows.append(self._solver.Constraint(-self._solver.infinity(), capacity))
        return len(self._rows) - 1

    def equation(self, value: float, signs: Iterable[float], free: float = 0.0) -> int:
        """One that columns use up exactly; artificial ones make up for what is missing or over.

        Those of the sign ``free`` cost nothing as long as any others are used.
        """
        self._rows.append(self._solver.Constraint(value, value))
        for sign in signs:
            variable = self._variable(0.0)
            if sign == free:
                self._free.add(len(self._artificials))
            self._rows[-1].SetCoefficient(variable, sign)
            self._artificials.append(variable)
            self._costs.append(0.0)
        return len(self._rows) - 1

    def _variable(self, cost: float) -> "pywraplp.Variable":
        variable = self._solver.NumVar(0.0, self._solver.infinity(), "")
        self._objective.SetCoefficient(variable, cost)
        return variable

    def column(self, cost: float, demand: int, uses: Iterable[tuple[int, float]]) -> None:
        """One more column, and how much it uses of which rows."""
        variable = self._variable(cost)
        self._rows[self._once[demand]].SetCoefficient(variable, 1.0)
        self._rows[self._served[demand]].SetCoefficient(variable, 1.0)
        for row, times in uses:
            self._rows[row].SetCoefficient(variable, times)
        self._variables.append(variable)

    def take(self, column: int, least: float, most: float) -> None:
        """Between so much and so much of it, from now on."""
        self._variables[column].SetBounds(least, most)

    def begin(self, highest: float) -> None:
        """With columns that cost so much: artificial ones that are not free cost more."""
        cost = self._tuning.artificial_first * highest
        self._least = max(self._least, cost)
        for number, own in enumerate(self._costs):
            if number not in self._free:
                self._raise(number, max(own, cost))

    def _raise(self, number: int, cost: float) -> None:
        self._costs[number] = min(cost, self._dearest)
        self._objective.SetCoefficient(self._artificials[number], self._costs[number])

    @property
    def artificial(self) -> float:
        """The cost of the dearest artificial column."""
        return max(self._costs)

    def raise_artificials(self) -> bool:
        """Raise the cost of those used; whether that may change something."""
        risen = [number for number in self.lacking if self._costs[number] < self._dearest]
        for number in [n for n in risen if n not in self._free] or risen:
            self._free.discard(number)
            self._raise(
                number, max(self._tuning.artificial_dearer * self._costs[number], self._least)
            )
        return bool(risen)

    def solve(self, deadline: Deadline) -> bool:
        """False if the solver gave up, or the time is up."""
        if not optimised(self._solver, deadline):
            return False
        # Asked now: whatever is added later leaves nothing to be asked.
        self.parts = np.array([variable.solution_value() for variable in self._variables])
        own = [each.solution_value() for each in self._artificials]
        self.lacking = [n for n, part in enumerate(own) if part >= _SOME]
        return True

    @property
    def value(self) -> float:
        """The least cost."""
        return float(self._objective.Value())

    def duals(self) -> Floats:
        """The dual value of each row: of a capacity it is not positive, but for rounding."""
        return np.array([row.dual_value() for row in self._rows])

    def paid_by_demands(self, duals: Floats) -> Floats:
        """By demand, what one more stack for it costs."""
        paid: Floats = duals[self._once] + duals[self._served]
        return paid

    def whole(self) -> Ints | None:
        """The columns that its solution takes, in their order; None if any is fractional."""
        taken = np.rint(self.parts)
        return np.flatnonzero(taken) if (np.abs(self.parts - taken) < _SOME).all() else None
