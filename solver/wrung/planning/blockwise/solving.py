"""One run of the solver: the best value of an objective that can be found in the time."""

import math
from collections.abc import Iterable
from typing import Final, Literal, TypeAlias

from msgspec import Struct
from ortools.sat.python import cp_model

from wrung.deadline import Deadline
from wrung.planning.blockwise.choices import Choices
from wrung.planning.blockwise.rules import Rule
from wrung.planning.blockwise.scaled import Scaled
from wrung.planning.finding import Plan
from wrung.planning.solvers import Verdict, new_solver, run

Sense: TypeAlias = Literal["least", "most"]
# Bounds come as floats; a hair above a whole number must not be taken for the next.
_ROUNDING: Final = 1e-6


class Aim(Struct, frozen=True, kw_only=True):
    """What to minimise or maximise.

    Attributes:
        objective: the sum in question.
        sense: minimise or maximise.
        sparse: whether it takes only few of the values in its range.
    """

    objective: cp_model.LinearExpr
    sense: Sense = "least"
    sparse: bool = False


class Result(Struct, frozen=True, kw_only=True):
    """The result of a run.

    Attributes:
        verdict: of the plan.
        plan: the best found.
        bound: no plan has a better value; None where nothing is known.
    """

    verdict: Verdict
    plan: Plan | None = None
    bound: int | None = None


def worth_making(scaled: Scaled, deadline: Deadline, pairs: int = 0) -> bool:
    """Whether there is time and memory for a model of all kinds and demands.

    With ``pairs``, also for that many pairs of stacks. A model that cannot be made in time is not
    begun, as freeing it takes time too.
    """
    kinds, demands = len(scaled.kinds), len(scaled.open) + pairs
    uses = kinds * demands
    # Sequences side by side make thousands of cliques, each with a constraint for every kind.
    members = sum(len(clique) for clique in scaled.problem.cliques if len(clique) > 1)
    size = uses * deadline.tuning.bytes_a_use + min(
        uses * deadline.tuning.bytes_a_use_of_few, deadline.tuning.bytes_of_model
    )
    size += kinds * max(members - demands, 0) * deadline.tuning.bytes_a_member
    return deadline.remaining >= uses * deadline.tuning.seconds_a_use and deadline.memory.room(size)


def model_of(
    scaled: Scaled, rules: Iterable[Rule], deadline: Deadline, pairs: int = 0
) -> Choices | None:
    """The variables and the rules; None if the time is up before they are complete."""
    if not worth_making(scaled, deadline, pairs):
        return None
    choices = Choices(scaled)
    # Rules yield between their parts, so that a large model is given up in time.
    for work in (choices.open(), *(rule(scaled, choices) for rule in rules)):
        for _ in work:
            if deadline.passed:
                return None
    return choices


def solve(
    choices: Choices, aim: Aim, start: Plan, deadline: Deadline, effort: float = math.inf
) -> Result:
    """Optimise within the deadline.

    Args:
        choices: variables and rules.
        aim: what to optimise.
        start: the plan to begin with; it need not keep to all rules.
        deadline: ends the search.
        effort: also ends it, in units of the solver's deterministic time (some seconds each). It is
            the same on every machine, so that what is tried next does not depend on speed.
    """
    if deadline.remaining < choices.size * deadline.tuning.seconds_a_variable:
        return Result(verdict="unknown")
    _set_up(choices, aim, start)
    if deadline.passed:
        return Result(verdict="unknown")
    solver = new_solver(deadline.share(deadline.tuning.clock), effort)
    # Measured over a hundred requests of six targets: without presolve and cuts, proofs with these
    # rules are 2 to 10 times faster, and no step is left that could overrun the time.
    solver.parameters.cp_model_presolve = False
    solver.parameters.cut_level = 0
    # The default search may creep from one value of the objective to the next.
    solver.parameters.use_objective_lb_search = aim.sparse
    verdict = run(solver, choices.model, deadline)
    if verdict in ("impossible", "unknown"):
        return Result(verdict=verdict)
    bound = _whole(solver.best_objective_bound, aim.sense)
    return Result(verdict=verdict, plan=choices.plan(solver), bound=bound)


def _set_up(choices: Choices, aim: Aim, start: Plan) -> None:
    choices.start_from(start)
    if aim.sense == "least":
        choices.model.minimize(aim.objective)
    else:
        choices.model.maximize(aim.objective)


def _whole(bound: float, sense: Sense) -> int:
    return math.ceil(bound - _ROUNDING) if sense == "least" else math.floor(bound + _ROUNDING)
