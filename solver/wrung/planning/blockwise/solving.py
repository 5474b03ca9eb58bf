"""One run of the solver: the best value of an objective, as far as it can be had in the time."""

import math
from typing import Final, Literal, TypeAlias

from msgspec import Struct
from ortools.sat.python import cp_model

from wrung.planning.blockwise.choices import Choices
from wrung.planning.deadline import Deadline
from wrung.planning.finding import Plan

Sense: TypeAlias = Literal["least", "most"]
Verdict: TypeAlias = Literal["proven", "found", "impossible", "open"]

_VERDICTS: Final[dict[int, Verdict]] = {
    int(cp_model.OPTIMAL): "proven",
    int(cp_model.FEASIBLE): "found",
    int(cp_model.INFEASIBLE): "impossible",
}
_ROUNDING: Final = 1e-6
_CLOCK: Final = 0.97
"""In the largest models the solver looks at its clock some 50 ms late."""


class Result(Struct, frozen=True, kw_only=True):
    """What came of it.

    Attributes:
        verdict: ``proven`` best; ``found`` a plan, not proven best; ``impossible`` no plan holds
            all rules; ``open`` neither a plan nor a proof in the time.
        plan: the best found.
        value: its value.
        bound: no plan has a better value; None where nothing is known.
    """

    verdict: Verdict
    plan: Plan | None = None
    value: int = 0
    bound: int | None = None


def solve(
    choices: Choices,
    objective: cp_model.LinearExpr,
    sense: Sense,
    deadline: Deadline,
    effort: float = math.inf,
) -> Result:
    """Optimise within the deadline.

    Args:
        choices: variables and rules.
        objective: what to make least or most.
        sense: which of the two.
        deadline: ends the search.
        effort: ends it too, in the solver's deterministic time (about a second each): the same on
            every machine, so that what is tried next does not depend on how fast it is.
    """
    if deadline.passed:
        return Result(verdict="open")
    if sense == "least":
        choices.model.minimize(objective)
    else:
        choices.model.maximize(objective)
    solver = _solver(deadline.remaining * _CLOCK, effort)
    with deadline.cancel.stopping(solver.stop_search):
        status = solver.solve(choices.model)
    verdict = _VERDICTS.get(int(status), "open")
    if verdict in ("impossible", "open"):
        return Result(verdict=verdict)
    return Result(
        verdict=verdict,
        plan=choices.plan(solver),
        value=round(solver.objective_value),
        bound=_whole(solver.best_objective_bound, sense),
    )


def _whole(bound: float, sense: Sense) -> int:
    return math.ceil(bound - _ROUNDING) if sense == "least" else math.floor(bound + _ROUNDING)


def _solver(seconds: float, effort: float) -> cp_model.CpSolver:
    solver = cp_model.CpSolver()
    # Ctrl-C belongs to the program around us; the solver would not give it back.
    solver.parameters.catch_sigint_signal = False
    # One worker and a fixed seed: the same request gets the same answer.
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = 1
    solver.parameters.max_time_in_seconds = seconds
    solver.parameters.max_deterministic_time = effort
    # Measured over a hundred requests of six targets: without presolve and cuts the rules as they
    # stand are proven 2 to 10 times faster, and nothing is left that could overrun the time.
    solver.parameters.cp_model_presolve = False
    solver.parameters.cut_level = 0
    return solver
