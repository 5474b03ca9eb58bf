"""The variables of the model over single blocks, what they say about a plan, and its runs."""

import math
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import Final, TypeAlias

from ortools.sat.python import cp_model

from wrung.deadline import Deadline
from wrung.planning.blockwise.scaled import Scaled
from wrung.planning.finding import UNDECIDED, Plan, Result
from wrung.planning.problem import crowded
from wrung.planning.proof import Goal, goals_of
from wrung.planning.solvers import QuickModel, new_solver, run

# Bounds come as floats; a hair above a whole number must not be taken for the next.
_ROUNDING: Final = 1e-6


class Choices:
    """Which demands are served, and how many pieces of each kind stand in each stack.

    Attributes:
        scaled: the problem.
        model: what the rules add to.
        served: per demand, whether it has a stack.
        blocks: per demand, how many blocks its stack has.
        errors: per demand, the error of its stack or more, grains.
        largest: the largest of them or more, grains.
    """

    def __init__(self, scaled: Scaled) -> None:
        self.scaled = scaled
        self._uses: list[dict[int, cp_model.IntVar]] = []
        # With its aliases it would refer to itself, and be freed only later by the garbage
        # collector.
        self.model = QuickModel()
        self.served: list[cp_model.IntVar] = []
        self.blocks: list[cp_model.IntVar] = []
        self.errors: list[cp_model.IntVar] = []
        self.largest = self.model.new_int_var(0, scaled.worst, "")

    def open(self) -> Iterator[None]:
        """Make the variables, demand by demand."""
        for demand, wanted in enumerate(self.scaled.problem.demands):
            self.served.append(self.model.new_bool_var(""))
            self.blocks.append(self.model.new_int_var(0, wanted.most, ""))
            self.errors.append(self.model.new_int_var(0, self.scaled.worst, ""))
            self._uses.append(
                {
                    kind: self.model.new_int_var(0, len(self.scaled.pieces[kind]), "")
                    for kind in self.scaled.usable[demand]
                }
            )
            yield

    def uses(self, demand: int) -> dict[int, cp_model.IntVar]:
        """The kinds that may be in a stack, and how many pieces of each are."""
        return self._uses[demand]

    def total(self, demand: int, of: Sequence[int]) -> cp_model.LinearExpr:
        """The sum over the stack's pieces of a figure given per kind."""
        uses = self._uses[demand]
        return _weighted(list(uses.values()), [of[kind] for kind in uses])

    def off(self, demand: int) -> cp_model.LinearExpr:
        """How far its nominal length is from the target, grains; 0 where there is none."""
        window, served = self.scaled.windows[demand], self.served[demand]
        first = self.scaled.offset(demand) * served
        # A window of one length has no further steps, and the grain need not divide one.
        if len(window) == 1:
            return first + 0
        beyond = self.total(demand, self.scaled.nominals) - window.start * served
        return first + self.scaled.stride * beyond

    def sum(self, variables: Sequence[cp_model.IntVar]) -> cp_model.LinearExpr:
        """The sum of some of them."""
        return _weighted(variables, [1] * len(variables))

    def goals(self) -> Iterator[tuple[cp_model.LinearExpr, int]]:
        """What is minimised, in order, and the unit in which it is counted here."""
        problem, grain = self.scaled.problem, self.scaled.grain
        for number, size in enumerate(problem.sizes):
            of_class = [k for k, d in enumerate(problem.demands) if d.priority_class == number]
            yield size - self.sum([self.served[k] for k in of_class]), 1
        by: dict[Goal, tuple[cp_model.LinearExpr, int]] = {
            "blocks": (self.sum(self.blocks), 1),
            "largest": (self.largest + 0, grain),
            "total": (self.sum(self.errors), grain),
        }
        yield from (by[goal] for goal in goals_of(problem)[len(problem.sizes) :])

    def start_from(self, plan: Plan) -> None:
        """Let the next search begin with a plan."""
        # Otherwise the hints of the previous search would be kept beside the new ones.
        self.model.clear_hints()  # type: ignore[no-untyped-call]  # has no type information
        hints = list(self._hints(plan))
        # All at once: one by one, those of a large shelf take longer than some searches are
        # allowed.
        hint = self.model.proto.solution_hint
        hint.vars.extend([variable.index for variable, _ in hints])
        hint.values.extend([value for _, value in hints])

    def _hints(self, plan: Plan) -> Iterator[tuple[cp_model.IntVar, int]]:
        for demand, stack in enumerate(plan):
            counts = Counter(self.scaled.kind_of[piece] for piece in stack or ())
            yield self.served[demand], int(stack is not None)
            for kind, use in self.uses(demand).items():
                yield use, counts[kind]

    def plan(self, solver: cp_model.CpSolver) -> Plan:
        """The plan of the solver's last solution."""
        # Read at once, for the same reason.
        values: list[int] = list(solver.response_proto.solution)  # pyright: ignore[reportUnknownArgumentType, reportUnknownMemberType] -- untyped
        return self.scaled.plan(
            [
                {kind: values[use.index] for kind, use in self.uses(demand).items()}
                if values[served.index]
                else None
                for demand, served in enumerate(self.served)
            ]
        )


def _weighted(variables: Sequence[cp_model.IntVar], by: Sequence[int]) -> cp_model.LinearExpr:
    return cp_model.LinearExpr.weighted_sum(variables, by)  # pyright: ignore[reportUnknownMemberType] -- untyped lists


Rule: TypeAlias = Callable[[Scaled, Choices], Iterator[None]]
"""Adds its constraints and stops after each portion of work, so that the clock can be checked."""


def _worth_making(scaled: Scaled, deadline: Deadline) -> bool:
    """Whether there is time and memory for a model of all kinds and demands.

    A model that cannot be made in time is not begun, as freeing it takes time too.
    """
    kinds, demands, tuning = len(scaled.pieces), len(scaled.open), deadline.tuning
    if crowded(scaled.problem, tuning):
        return False
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
    variables = len(choices.model.proto.variables)  # pyright: ignore[reportUnknownArgumentType, reportUnknownMemberType] -- untyped
    if deadline.remaining < variables * deadline.tuning.seconds_a_variable:
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
