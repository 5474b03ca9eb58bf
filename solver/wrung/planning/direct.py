"""The direct engine: a CP-SAT model over single blocks, for every problem there is.

It proves in stages, each with the results of the stages before it as further rules: how many
demands can be served, then the goals of the objective in their order.
"""

import math
from collections.abc import Iterator, Sequence

from wrung.deadline import Deadline
from wrung.planning.blockwise.choices import Choices
from wrung.planning.blockwise.floors import Floors, floors
from wrung.planning.blockwise.implied import (
    alike_demands,
    least_blocks_alone,
    least_error_alone,
    place_value,
    window_lengths,
)
from wrung.planning.blockwise.progress import Progress
from wrung.planning.blockwise.rules import RULES, Rule
from wrung.planning.blockwise.solving import Aim, model_of, solve
from wrung.planning.building.stacking import first_plan
from wrung.planning.finding import Finding, Plan
from wrung.planning.parts import filled, subproblem
from wrung.planning.problem import Problem
from wrung.planning.proof import Goal
from wrung.planning.solvers import Verdict


def search(problem: Problem, deadline: Deadline, further: Sequence[Rule] = ()) -> Finding:
    """The best plan that is found before the deadline, and what is proven of it.

    Plans keep to the ``further`` rules, too.
    """
    least = floors(problem, deadline)
    start: Plan = (None,) * len(problem.demands)
    if not further:
        # It is built without the model, and so without the further rules.
        start = _start(problem, deadline.share(deadline.tuning.share_for_start))
    known = Progress(problem, start, subproblem(problem, least.scaled.open).sizes)
    _Direct(least, known, deadline, further).run()
    return known.finding()


def _start(problem: Problem, deadline: Deadline) -> Plan:
    """A plan of few blocks, one stack after another; for a large problem, a quicker one."""
    if len(problem.pieces) * len(problem.demands) > deadline.tuning.small_problem:
        return first_plan(problem, deadline)
    return filled(problem, (None,) * len(problem.demands), deadline)


class _Direct:
    """Makes the model and tightens it from stage to stage; what it learns goes into ``known``."""

    def __init__(
        self, least: Floors, known: Progress, deadline: Deadline, further: Sequence[Rule]
    ) -> None:
        self._scaled = least.scaled
        self._least = least
        self._known = known
        self._everyone = known.served_at_most
        self._deadline = deadline
        self._further = further

    def run(self) -> None:
        """Serve all demands, or as many as possible, and these as well as possible."""
        self._know_floor(self._known.goals[0])
        choices = model_of(self._scaled, self._rules(), self._deadline)
        if choices is not None:
            self._serve_all(choices)
            self._serve_most(choices)
            self._serve_well(choices)

    def _serve_all(self, choices: Choices) -> None:
        """Look, for a limited time, for a plan that serves all and is good by the first goal."""
        if self._known.served_proven:
            return
        everyone = self._everyone
        choices.serve_at_least(everyone)
        part = self._deadline.share(self._deadline.tuning.share_for_serving)
        verdict = self._improve(
            choices, self._known.goals[0], part, self._deadline.tuning.effort_to_serve_all
        )
        if verdict == "impossible":
            last = max(k for k, count in enumerate(everyone) if count)
            # Of the classes after the last there are none to serve.
            self._known.serves_at_most(
                (*everyone[:last], everyone[last] - 1, *everyone[last + 1 :])
            )

    def _serve_most(self, choices: Choices) -> None:
        """Look for the most that can be served of each class, the most urgent first."""
        for own in range(len(self._known.served_at_most)):
            if self._known.served[: own + 1] == self._known.served_at_most[: own + 1]:
                continue
            if self._known.served[:own] != self._known.served_at_most[:own]:
                return
            self._serve_most_of(choices, own)

    def _serve_most_of(self, choices: Choices, own: int) -> None:
        """Of a class, with as many of those before it as there can be."""
        served, known = self._known.served, self._known.served_at_most
        choices.serve_at_least((*served[: own + 1], *(0 for _ in served[own + 1 :])))
        aim = Aim(objective=choices.served_of(own), sense="most")
        choices.model.add(aim.objective <= known[own])
        part = self._deadline.share(self._deadline.tuning.share_for_serving)
        result = solve(choices, aim, self._known.plan, part)
        self._known.offer(result.plan or self._known.plan)
        if result.bound is not None and result.bound < known[own]:
            # With fewer of this class, all of those after it may be served.
            after = self._everyone[own + 1 :]
            self._known.serves_at_most((*known[:own], result.bound, *after))

    def _serve_well(self, choices: Choices) -> None:
        """Settle one goal after another, as far as time allows."""
        choices.serve_at_least(self._known.served)
        for goal in self._known.goals:
            self._know_floor(goal)
            if not self._known.settled(goal):
                self._improve(choices, goal, self._deadline)
            if not self._known.settled(goal):
                return
            # What is settled must not get worse for the sake of later goals.
            reached = self._known.value(goal) // self._unit(goal)
            choices.model.add(self._aim(choices, goal).objective <= reached)

    def _know_floor(self, goal: Goal) -> None:
        """Record that no plan that serves all is better than its stacks, each built alone."""
        if sum(self._known.served) == len(self._scaled.open):
            self._known.bounded(goal, self._least.of(goal))

    def _improve(
        self, choices: Choices, goal: Goal, deadline: Deadline, effort: float = math.inf
    ) -> Verdict:
        """Search for a plan that is better by the goal."""
        result = solve(choices, self._aim(choices, goal), self._known.plan, deadline, effort)
        self._known.offer(result.plan or self._known.plan)
        if result.bound is not None:
            self._known.bounded(goal, result.bound * self._unit(goal))
        return result.verdict

    def _aim(self, choices: Choices, goal: Goal) -> Aim:
        if goal == "blocks":
            return Aim(objective=choices.sum(choices.blocks))
        # In a wide window, errors take few of the values that they could have.
        sparse = any(len(window) > 1 for window in self._scaled.windows)
        objective = choices.largest if goal == "largest" else choices.sum(choices.errors)
        return Aim(objective=objective, sparse=sparse)

    def _unit(self, goal: Goal) -> int:
        return 1 if goal == "blocks" else self._scaled.grain

    def _rules(self) -> Iterator[Rule]:
        yield from (*RULES, place_value, alike_demands, *self._further)
        if self._least.blocks is not None:
            yield least_blocks_alone(self._least.blocks)
        if self._least.burdens is not None:
            yield least_error_alone(self._least.burdens)
        if self._least.over is not None and self._least.under is not None:
            yield window_lengths(self._least.over, self._least.under, self._deadline.tuning)
