"""One run of the solver: the least value of an objective that can be found in the time."""

import math
from collections.abc import Iterable
from typing import Final

from ortools.sat.python import cp_model

from wrung.deadline import Deadline
from wrung.planning.blockwise.choices import Choices
from wrung.planning.blockwise.rules import Rule
from wrung.planning.blockwise.scaled import Scaled
from wrung.planning.finding import UNDECIDED, Plan, Result
from wrung.planning.solvers import new_solver, run

# Bounds come as floats; a hair above a whole number must not be taken for the next.
_ROUNDING: Final = 1e-6


def _worth_making(scaled: Scaled, deadline: Deadline) -> bool:
    """Whether there is time and memory for a model of all kinds and demands.

    A model that cannot be made in time is not begun, as freeing it takes time too.
    """
    kinds, demands, tuning = len(scaled.pieces), len(scaled.open), deadline.tuning
    uses = sum(len(scaled.usable[demand]) for demand in scaled.open)
    # Sequences side by side make thousands of cliques, each with a constraint for every kind.
    members = sum(len(clique) for clique in scaled.problem.cliques if len(clique) > 1)
    size = uses * tuning.bytes_a_use + min(uses * tuning.bytes_a_use_of_few, tuning.bytes_of_model)
    size += kinds * max(members - demands, 0) * tuning.bytes_a_member
    return deadline.remaining >= uses * tuning.seconds_a_use and deadline.memory.room(size)


def model_of(scaled: Scaled, rules: Iterable[Rule], deadline: Deadline) -> Choices | None:
    """The variables and the rules; None if the time is up before they are complete."""
    if not _worth_making(scaled, deadline):
        return None
    choices = Choices(scaled)
    # Rules yield between their parts, so that a large model is given up in time.
    for work in (choices.open(), *(rule(scaled, choices) for rule in rules)):
        for _ in work:
            if deadline.passed:
                return None
    return choices


def solve(  # noqa: PLR0913 -- what, from where, and how long
    choices: Choices,
    objective: cp_model.LinearExpr,
    start: Plan,
    deadline: Deadline,
    effort: float = math.inf,
    *,
    linear: int = 1,
) -> Result:
    """Minimise within the deadline, beginning with a plan that need not keep to all rules.

    ``effort`` ends the search too, see `new_solver`; ``linear`` is how much of the model the solver
    takes into its linear programme.
    """
    if deadline.remaining < choices.size * deadline.tuning.seconds_a_variable:
        return UNDECIDED
    choices.start_from(start)
    choices.model.minimize(objective)
    if deadline.passed:
        return UNDECIDED
    solver = new_solver(deadline.share(deadline.tuning.clock), effort)
    # Measured over a hundred requests of six targets: without presolve and cuts, proofs with these
    # rules are 2 to 10 times faster, and no step is left that could overrun the time.
    solver.parameters.cp_model_presolve = False
    solver.parameters.cut_level = 0
    solver.parameters.linearization_level = linear
    verdict = run(solver, choices.model, deadline)
    if verdict in ("impossible", "unknown"):
        return Result(verdict=verdict)
    bound = math.ceil(solver.best_objective_bound - _ROUNDING)
    return Result(verdict=verdict, plan=choices.plan(solver), bound=bound)
