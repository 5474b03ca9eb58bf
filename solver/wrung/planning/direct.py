"""The direct engine: a CP-SAT model over single blocks, for every problem there is.

It proves in stages, each with what the stages before it settled as a further rule: how many demands
can be served, then the goals of the objective in their order.
"""

import math
from collections.abc import Iterator
from typing import Final

from ortools.sat.python import cp_model

from wrung.planning.blockwise.choices import Choices
from wrung.planning.blockwise.floors import Floors, floors
from wrung.planning.blockwise.known import Goal, Known
from wrung.planning.blockwise.solving import Result, solve
from wrung.planning.deadline import Deadline
from wrung.planning.finding import Finding, Plan
from wrung.planning.parts import filled
from wrung.planning.problem import Problem
from wrung.planning.rules import Rule
from wrung.planning.rules.alike_demands import alike_demands
from wrung.planning.rules.block_count import block_count
from wrung.planning.rules.least_alone import least_blocks_alone, least_error_alone
from wrung.planning.rules.place_value import place_value
from wrung.planning.rules.reach import reach
from wrung.planning.rules.single_use import single_use
from wrung.planning.rules.wear_count import wear_count
from wrung.planning.rules.worst_case import worst_case

_RULES: Final[tuple[Rule, ...]] = (
    reach,
    block_count,
    wear_count,
    single_use,
    worst_case,
    place_value,
    alike_demands,
)

_TRY_ALL: Final = 1.0
"""Effort, see `solve`, that goes into a plan that serves every demand, before fewer will do."""
_FOR_SERVING: Final = 0.7
"""Share of the time left that goes into serving more; the rest is for serving well."""
_FOR_A_START: Final = 0.3
"""Share of the time for a first plan, one stack after another: mostly a few milliseconds."""


def search(problem: Problem, deadline: Deadline) -> Finding:
    """The best plan that is found before the deadline, and what is proven of it."""
    least = floors(problem, deadline)
    nothing: Plan = (None,) * len(problem.demands)
    start = filled(problem, nothing, deadline.share(_FOR_A_START))
    known = Known(problem, start, len(least.scaled.open))
    _Direct(least, known, deadline).run()
    return known.finding()


class _Direct:
    """Makes the model and tightens it from stage to stage; what it learns goes into ``known``."""

    def __init__(self, least: Floors, known: Known, deadline: Deadline) -> None:
        self._scaled = least.scaled
        self._least = least
        self._known = known
        self._deadline = deadline

    def run(self) -> None:
        """Serve all demands, or as many as can be, and these as well as can be."""
        choices = self._serve_all() or self._serve_most()
        if choices is not None:
            self._serve_well(choices)

    def _serve_all(self) -> Choices | None:
        """A model in which all are served; None if they cannot be, or no plan was found so soon."""
        choices = self._model()
        if choices is None:
            return None
        for demand in self._scaled.open:
            choices.model.add(choices.served[demand] == 1)
        if self._known.served_proven:
            return choices
        part = self._deadline.share(_FOR_SERVING)
        result = self._improve(choices, self._known.goals[0], part, _TRY_ALL)
        if result.verdict == "impossible":
            self._known.serves_at_most(len(self._scaled.open) - 1)
        return None if result.plan is None else choices

    def _serve_most(self) -> Choices | None:
        """A model in which as many are served as can be; None if the time is up."""
        choices = self._model()
        if choices is None:
            return None
        served = choices.sum(choices.served)
        choices.model.add(served <= self._known.served_at_most)
        if not self._known.served_proven:
            choices.start_from(self._known.plan)
            result = solve(choices, served, "most", self._deadline.share(_FOR_SERVING))
            self._known.offer(result.plan or self._known.plan)
            if result.bound is not None:
                self._known.serves_at_most(result.bound)
        choices.model.add(served >= self._known.served)
        return choices

    def _serve_well(self, choices: Choices) -> None:
        """Settle one goal after another, as far as there is time."""
        for goal in self._known.goals:
            if self._known.served == len(self._scaled.open):
                self._known.bounded(goal, self._least.of(goal))
            if not self._known.settled(goal):
                self._improve(choices, goal, self._deadline)
            if not self._known.settled(goal):
                return
            reached = self._known.value(goal) // self._unit(goal)
            choices.model.add(_objective(choices, goal) <= reached)

    def _improve(
        self, choices: Choices, goal: Goal, deadline: Deadline, effort: float = math.inf
    ) -> Result:
        """Search for a plan that is better by the goal."""
        choices.start_from(self._known.plan)
        result = solve(choices, _objective(choices, goal), "least", deadline, effort)
        self._known.offer(result.plan or self._known.plan)
        if result.bound is not None:
            self._known.bounded(goal, result.bound * self._unit(goal))
        return result

    def _unit(self, goal: Goal) -> int:
        return 1 if goal == "blocks" else self._scaled.grain

    def _model(self) -> Choices | None:
        """The variables and the rules; None if the time is up before they are all there."""
        choices = Choices(self._scaled)
        for work in (choices.open(), *(rule(self._scaled, choices) for rule in self._rules())):
            for _ in work:
                if self._deadline.passed:
                    return None
        return choices

    def _rules(self) -> Iterator[Rule]:
        yield from _RULES
        if self._least.blocks is not None:
            yield least_blocks_alone(self._least.blocks)
        if self._least.burdens is not None:
            yield least_error_alone(self._least.burdens)


def _objective(choices: Choices, goal: Goal) -> cp_model.LinearExpr:
    if goal == "blocks":
        return choices.sum(choices.blocks)
    return choices.largest if goal == "largest" else choices.sum(choices.errors)
