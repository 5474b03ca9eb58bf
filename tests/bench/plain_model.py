"""The model that comes to mind first, for solvers of any kind: which block is in which stack."""

from collections.abc import Sequence
from datetime import UTC, datetime
from math import gcd
from typing import Final

from msgspec import Struct
from ortools.linear_solver import pywraplp

from wrung import LengthTarget, Objective
from wrung.blocks import margin

from .growing import Case

_EVER: Final = datetime.min.replace(tzinfo=UTC)
_FOR_EVER: Final = datetime.max.replace(tzinfo=UTC)


class Found(Struct, frozen=True, kw_only=True):
    """The number not served and the first value of the objective; nothing if no plan was found."""

    proven: bool = False
    value: tuple[int, int] | None = None


class PlainModel:
    """As many stacks as possible; of the plans with so many, the best by the objective.

    One bit for each block and target; one row for each length, and for each block and time. Lengths
    and errors are in the largest units that divide them all, as suits floating point. No joints.
    """

    def __init__(self, case: Case, objective: Objective, backend: str) -> None:
        self._blocks = case.blocks
        self._solver = pywraplp.Solver.CreateSolver(backend)
        self._served = self._bits(len(case.targets))
        self._used = [self._bits(len(case.blocks)) for _ in case.targets]
        for target, used, served in zip(case.targets, self._used, self._served, strict=True):
            self._make_length(target, used, served)
        for together in _together(case.targets):
            for column in zip(*(self._used[target] for target in together), strict=True):
                self._row(column, [1] * len(column), 0, 1)
        self._unit, self._above = 1, len(case.blocks) * len(case.targets) + 1
        self._objective = self._solver.Objective()
        self._objective.SetMinimization()
        if objective == "fewest_blocks":
            for bit in (bit for used in self._used for bit in used):
                self._objective.SetCoefficient(bit, 1)
        else:
            self._objective.SetCoefficient(self._largest_error(), 1)
        for served in self._served:
            # One target more is worth more than anything else.
            self._objective.SetCoefficient(served, -self._above)

    def solve(self, limit_ms: int) -> Found:
        """With one thread."""
        self._solver.SetTimeLimit(limit_ms)
        self._solver.SetNumThreads(1)
        status = self._solver.Solve()
        if status not in (pywraplp.Solver.OPTIMAL, pywraplp.Solver.FEASIBLE):
            return Found()
        served = sum(round(bit.solution_value()) for bit in self._served)
        cost = self._objective.Value() + self._above * served
        value = (len(self._served) - served, round(cost) * self._unit)
        return Found(proven=status == pywraplp.Solver.OPTIMAL, value=value)

    def _bits(self, count: int) -> list[pywraplp.Variable]:
        return [self._solver.BoolVar("") for _ in range(count)]

    def _row(
        self,
        bits: Sequence[pywraplp.Variable],
        coefficients: Sequence[int],
        least: float,
        most: float,
    ) -> pywraplp.Constraint:
        row = self._solver.Constraint(least, most)
        for bit, coefficient in zip(bits, coefficients, strict=True):
            row.SetCoefficient(bit, coefficient)
        return row

    def _make_length(
        self,
        target: LengthTarget,
        used: Sequence[pywraplp.Variable],
        served: pywraplp.Variable,
    ) -> None:
        lengths = [block.nominal for block in self._blocks]
        step = gcd(target.length, *lengths)
        row = self._row(used, [length // step for length in lengths], 0, 0)
        row.SetCoefficient(served, -(target.length // step))

    def _largest_error(self) -> pywraplp.Variable:
        """The worst-case error of a stack: of both signs of its deviations, the larger."""
        margins = [margin(block) for block in self._blocks]
        deviations = [block.deviation or 0 for block in self._blocks]
        self._unit = gcd(*margins, *deviations)
        most = sum(margins) + sum(map(abs, deviations))
        self._above = most // self._unit + 1
        largest = self._solver.IntVar(0, self._above, "")
        for used in self._used:
            for sign in (1, -1):
                costs = [
                    (m + sign * d) // self._unit for m, d in zip(margins, deviations, strict=True)
                ]
                row = self._row(used, costs, -self._solver.infinity(), 0)
                row.SetCoefficient(largest, -1)
        return largest


def _together(targets: Sequence[LengthTarget]) -> list[tuple[int, ...]]:
    """The targets that are needed whenever another one begins to be needed."""
    spans = [(each.needed_from or _EVER, each.needed_until or _FOR_EVER) for each in targets]
    at = {start for start, _ in spans}
    found = {tuple(k for k, (start, end) in enumerate(spans) if start <= a < end) for a in at}
    return sorted(found)
