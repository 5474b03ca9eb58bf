# The solver's wrapper is generated and carries no types.
# pyright: reportUnknownMemberType=false, reportUnknownVariableType=false
# pyright: reportUnknownArgumentType=false, reportMissingTypeStubs=false
"""The one place where solvers are made: the settings of every run, and what ends it."""

import math
from itertools import product
from typing import Final, Literal, TypeAlias

import numpy as np
import numpy.typing as npt
from ortools.linear_solver import pywraplp
from ortools.sat.python import cp_model

from wrung.deadline import Deadline

Verdict: TypeAlias = Literal["best", "found", "impossible", "unknown"]
"""Of a search: ``best`` proven; ``found`` something, not proven best; ``impossible`` nothing keeps
all rules, proven; ``unknown`` nothing was found and nothing proven."""

_LONGEST_MS: Final = 1 << 40
"""Thirty years, which a linear solver can still represent."""

_VERDICTS: Final[dict[cp_model.CpSolverStatus, Verdict]] = {
    cp_model.OPTIMAL: "best",
    cp_model.FEASIBLE: "found",
    cp_model.INFEASIBLE: "impossible",
}


class QuickModel(cp_model.CpModel):
    """A model without the aliases for old names, which take 0.13 ms of the 0.14 ms to make one.

    They also tie it to itself, so that it is not freed when it is dropped. No public option leaves
    them out: the method is the wrapper's own, and if it goes, this one is never called.
    """

    def _add_pre_pep8_methods(self) -> None:
        pass

    def new_bool_vars(self, count: int) -> list[cp_model.IntVar]:
        """Make this many at once: 400 in 0.57 ms instead of 0.81 ms with `new_bool_var`."""
        domain = cp_model.Domain(0, 1)
        return [cp_model.IntVar(self.proto).with_domain(domain) for _ in range(count)]

    def least_sum(self, costs: npt.NDArray[np.int64]) -> None:
        """Minimise what the first variables cost.

        The model is the same that `minimize` makes, which takes 50 times as long.
        """
        own = np.flatnonzero(costs)
        self.clear_objective()  # type: ignore[no-untyped-call]  # has no type information
        objective = self.proto.objective
        objective.scaling_factor = 1.0
        objective.vars.extend(own.tolist())
        objective.coeffs.extend(costs[own].tolist())


def new_solver(deadline: Deadline, effort: float = math.inf) -> cp_model.CpSolver:
    """A CP-SAT solver that gives the same answer on every machine, unless the time ends it.

    ``effort`` ends it too, in its deterministic time (some seconds each).
    """
    solver = cp_model.CpSolver()
    # Ctrl-C belongs to the calling program; the solver would not give it back.
    solver.parameters.catch_sigint_signal = False
    # One worker and a fixed seed: the same request gets the same answer.
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = 1
    solver.parameters.max_time_in_seconds = deadline.remaining
    solver.parameters.max_deterministic_time = effort
    # The newer propagation of ortools 9.15 has let a wrong solution pass, which ends the process.
    solver.parameters.new_linear_propagation = False
    return solver


def run(solver: cp_model.CpSolver, model: cp_model.CpModel, deadline: Deadline) -> Verdict:
    """Solve the model, unless the deadline's `Cancel` ends it."""
    with deadline.cancel.stopping(solver.stop_search):
        return _VERDICTS.get(solver.solve(model), "unknown")


def new_linear_solver() -> pywraplp.Solver:
    """A linear programme without rows or columns; see `optimised`.

    The wrapper is public but has no types. A programme that grows to 800 columns in five rounds
    takes 10 ms this way, 33 ms with the typed `mathopt.IncrementalSolver`, 25 ms where the typed
    `model_builder` makes it anew for each round (CPU time, 2026-11-28).
    """
    return pywraplp.Solver.CreateSolver("GLOP")


def optimised(solver: pywraplp.Solver, deadline: Deadline) -> bool:
    """Solve a linear programme; False if the solver gave up, or the time is up."""
    of = pywraplp.MPSolverParameters
    if _optimised(solver, of(), deadline):
        return True
    # From the last basis it now and then gets stuck where a fresh start takes no time.
    for presolve, algorithm in product((of.PRESOLVE_ON, of.PRESOLVE_OFF), (of.DUAL, of.PRIMAL)):
        parameters = of()
        parameters.SetIntegerParam(of.INCREMENTALITY, of.INCREMENTALITY_OFF)
        parameters.SetIntegerParam(of.LP_ALGORITHM, algorithm)
        parameters.SetIntegerParam(of.PRESOLVE, presolve)
        if _optimised(solver, parameters, deadline):
            return True
    return False


def _optimised(
    solver: pywraplp.Solver, parameters: pywraplp.MPSolverParameters, deadline: Deadline
) -> bool:
    left_ms = deadline.remaining * 1000
    if not left_ms:
        return False
    # To the solver, 0 is no limit.
    solver.SetTimeLimit(min(math.ceil(left_ms), _LONGEST_MS))
    return bool(solver.Solve(parameters) == pywraplp.Solver.OPTIMAL)
