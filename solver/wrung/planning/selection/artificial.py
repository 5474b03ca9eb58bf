# The solver's wrapper is generated and carries no types.
# pyright: reportUnknownMemberType=false, reportUnknownVariableType=false
# pyright: reportUnknownArgumentType=false, reportMissingTypeStubs=false
"""What linear programmes share: artificial columns, and how to solve them in time."""

import math
from collections.abc import Sequence
from typing import Final

from ortools.linear_solver import pywraplp

from wrung.deadline import Deadline
from wrung.tuning import TUNING, Tuning

_PARAMETERS: Final = pywraplp.MPSolverParameters

_SOME: Final = 1e-6
"""Of a demand: less is none."""
_LONGEST_MS: Final = 1 << 40
"""Thirty years, which the solver can still represent."""


class Artificial:
    """A column for the shortfall of a row, such as demands not served; it rises while it is used.

    If it were expensive from the start, the first prices would be far too large to find anything
    near the best plans.
    """

    def __init__(
        self,
        solver: pywraplp.Solver,
        row: pywraplp.Constraint,
        dearest: float,
        *,
        sign: float = 1.0,
        tuning: Tuning = TUNING,
    ) -> None:
        self._objective = solver.Objective()
        self._variable = solver.NumVar(0.0, solver.infinity(), "")
        row.SetCoefficient(self._variable, sign)
        self._dearest = dearest
        self._cost = 0.0
        self._dearer = tuning.artificial_dearer

    def begin(self, cost: float) -> None:
        """Make it cost at least this much."""
        if cost > self._cost:
            self._cost = min(cost, self._dearest)
            self._objective.SetCoefficient(self._variable, self._cost)

    @property
    def there(self) -> bool:
        """Whether there is any; asked before anything else is changed."""
        return bool(self._variable.solution_value() >= _SOME)

    @property
    def may_rise(self) -> bool:
        """Whether there is any and its cost may rise."""
        return self.there and self._cost < self._dearest

    def rise(self) -> None:
        """Raise its cost."""
        self.begin(self._dearer * self._cost)


def raise_all(artificials: Sequence[Artificial]) -> bool:
    """Raise the cost of those that occur; whether that may change something."""
    risen = [each for each in artificials if each.may_rise]
    for each in risen:
        each.rise()
    return bool(risen)


def solved(solver: pywraplp.Solver, deadline: Deadline) -> bool:
    """Solve it; False if the solver gave up, or the time is up."""
    if _solved_as(solver, pywraplp.MPSolverParameters(), deadline):
        return True
    # From the last basis it now and then gets stuck where a fresh start takes no time.
    return any(
        _solved_as(solver, _afresh(algorithm, presolve), deadline)
        for presolve in (_PARAMETERS.PRESOLVE_ON, _PARAMETERS.PRESOLVE_OFF)
        for algorithm in (_PARAMETERS.DUAL, _PARAMETERS.PRIMAL)
    )


def _solved_as(
    solver: pywraplp.Solver, parameters: pywraplp.MPSolverParameters, deadline: Deadline
) -> bool:
    left_ms = deadline.remaining * 1000
    if not left_ms:
        return False
    # To the solver, 0 is no limit.
    solver.SetTimeLimit(min(math.ceil(left_ms), _LONGEST_MS))
    return bool(solver.Solve(parameters) == pywraplp.Solver.OPTIMAL)


def _afresh(algorithm: int, presolve: int) -> pywraplp.MPSolverParameters:
    parameters = pywraplp.MPSolverParameters()
    parameters.SetIntegerParam(_PARAMETERS.INCREMENTALITY, _PARAMETERS.INCREMENTALITY_OFF)
    parameters.SetIntegerParam(_PARAMETERS.LP_ALGORITHM, algorithm)
    parameters.SetIntegerParam(_PARAMETERS.PRESOLVE, presolve)
    return parameters
