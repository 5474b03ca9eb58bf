# The solver's own sums carry no types.
# pyright: reportUnknownMemberType=false
"""The plans that are as good as one in hand, as a model, and what it counts of them.

It is the model over single blocks. Where there are tables, one rule takes the place of most others:
each stack is one of some candidates over kinds, whose pieces may be told apart by marks.
"""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from typing import Final

import numpy as np
from msgspec import Struct
from ortools.sat.python import cp_model

from wrung.deadline import Deadline
from wrung.planning.blockwise.choices import Choices, Rule, model_of, solve
from wrung.planning.blockwise.rules import RULES, single_use
from wrung.planning.blockwise.scaled import Scaled
from wrung.planning.candidates.walk import Candidates
from wrung.planning.finding import Plan, Result, totals, values_of
from wrung.planning.problem import Problem
from wrung.planning.succession.counting import Changes, Cost, Step, counted

_LINEAR: Final = 2
"""How much of it the solver takes into its linear programme where there are candidates."""


class AsGood(Struct, frozen=True, kw_only=True):
    """A model of them.

    Attributes:
        choices: how many pieces of each kind stand in each stack; its model takes further limits.
        deadline: ends every search.
        among: whether stacks are chosen from candidates.
    """

    choices: Choices
    deadline: Deadline
    among: bool

    def least(self, objective: cp_model.LinearExpr, start: Plan) -> Result:
        """The plan with the least of a sum, from one to begin with."""
        if not self.among:
            return solve(self.choices, objective, start, self.deadline)
        effort = self.deadline.tuning.effort_for_changes
        return solve(self.choices, objective, start, self.deadline, effort, linear=_LINEAR)

    def total(self, goal: Changes | Cost) -> cp_model.LinearExpr | None:
        """What plans come to by a goal; None if the time is up before it is complete."""
        return self._changes(goal.pairs) if isinstance(goal, Changes) else self._cost(goal)

    def _changes(self, pairs: Sequence[tuple[Step, Step]]) -> cp_model.LinearExpr | None:
        """Blocks of both steps of each pair, less those that stay, which are of both."""
        steps = [step for pair in pairs for step in pair]
        both = [
            use for step in steps for demand in step for use in self.choices.uses(demand).values()
        ]
        stays: list[cp_model.IntVar] = []
        for pair in pairs:
            stays += self._stays(*pair)
            if self.deadline.passed:
                return None
        return cp_model.LinearExpr.sum(both) - 2 * cp_model.LinearExpr.sum(stays)

    def _stays(self, before: Step, after: Step) -> Iterator[cp_model.IntVar]:
        """For the blocks of a kind that both steps can use, how many of them they share at most."""
        one, other = self._together(before), self._together(after)
        kinds = self.choices.scaled.pieces
        for same in self.choices.scaled.same_blocks:
            uses = [[use for kind in same for use in own.get(kind, ())] for own in (one, other)]
            if not all(uses):
                continue
            # Only bounded from above, as fewest changes means that most stay.
            stay = self.choices.model.new_int_var(0, len(kinds[same[0]]), "")
            for own in uses:
                self.choices.model.add(stay <= cp_model.LinearExpr.sum(own))
            yield stay

    def _cost(self, cost: Cost) -> cp_model.LinearExpr:
        """Of all uses; with rising costs, of kinds of one piece if it may be used twice."""
        uses, kinds = self._together(range(len(self.choices.served))), self.choices.scaled.pieces
        each = [cost.pieces[pieces[0]] for pieces in kinds]
        total = cp_model.LinearExpr.weighted_sum(
            [use for own in uses.values() for use in own],
            [each[kind] for kind, own in uses.items() for _ in own],
        )
        if not cost.rising:
            return total
        again = [self._again(uses[k]) for k in uses if len(kinds[k]) == 1 < len(uses[k])]
        return total + cp_model.LinearExpr.sum(again)

    def _again(self, uses: Sequence[cp_model.IntVar]) -> cp_model.IntVar:
        """0 + 1 + 2 and so on, one for each use of a piece, or more."""
        most, count = len(uses), cp_model.LinearExpr.sum(uses)
        more = self.choices.model.new_int_var(0, most * (most - 1) // 2, "")
        # Tangents that meet n(n-1)/2 in every whole number.
        for slope in range(1, most):
            self.choices.model.add(more >= slope * count - slope * (slope + 1) // 2)
        return more

    def _together(self, demands: Sequence[int]) -> dict[int, list[cp_model.IntVar]]:
        """By kind, how many pieces of it stand in each of these stacks."""
        found: defaultdict[int, list[cp_model.IntVar]] = defaultdict(list)
        for demand in demands:
            for kind, use in self.choices.uses(demand).items():
                found[kind].append(use)
        return found


def over_blocks(
    problem: Problem, plan: Plan, marks: Sequence[int], deadline: Deadline
) -> AsGood | None:
    """All plans no worse than one by any goal; None without time or room to make the model."""
    choices = model_of(Scaled(problem, marks), RULES, deadline)
    if choices is None:
        return None
    for (goal, grain), value in zip(choices.goals(), values_of(problem, plan), strict=True):
        choices.model.add(goal <= value // grain)
    return AsGood(choices=choices, deadline=deadline, among=False)


def over_candidates(  # noqa: PLR0913, PLR0917 -- as `over_blocks`, and what to choose from
    problem: Problem,
    plan: Plan,
    marks: Sequence[int],
    deadline: Deadline,
    candidates: Candidates,
    stock: Sequence[Sequence[int]],
) -> AsGood | None:
    """The same, of these candidates; ``stock`` has the pieces of each of their kinds."""
    used = counted(candidates, len(stock))
    allowed: list[set[int]] = []
    for demand in range(len(problem.demands)):
        own = used[candidates.demands == demand].any(axis=0)
        allowed.append({piece for kind in np.flatnonzero(own).tolist() for piece in stock[kind]})
    one_of = _one_of(problem, plan, candidates, stock)
    choices = model_of(Scaled(problem, marks, allowed), (single_use, one_of), deadline)
    return None if choices is None else AsGood(choices=choices, deadline=deadline, among=True)


def _one_of(
    problem: Problem, plan: Plan, candidates: Candidates, stock: Sequence[Sequence[int]]
) -> Rule:
    """Each stack is one of the candidates, and their sums are no worse than those of the plan."""
    most, used = totals(problem, plan), counted(candidates, len(stock))
    limits = ((candidates.counts, most.blocks), (candidates.errors, most.total_error))

    def rule(scaled: Scaled, choices: Choices) -> Iterator[None]:
        chosen = choices.model.new_bool_vars(len(candidates))
        for costs, limit in limits:
            total = cp_model.LinearExpr.weighted_sum(chosen, costs.tolist())
            choices.model.add(total <= limit)
        for demand, served in enumerate(choices.served):
            rows = np.flatnonzero(candidates.demands == demand)
            choices.model.add_exactly_one([chosen[row] for row in rows.tolist()])
            choices.model.add(served == 1)
            # Bodies have no pieces; that their steps are used once is a rule for itself.
            for kind in filter(stock.__getitem__, np.flatnonzero(used[rows].any(axis=0)).tolist()):
                parts = sorted({scaled.kind_of[piece] for piece in stock[kind]})
                own = choices.sum([choices.uses(demand)[part] for part in parts])
                times: list[int] = used[rows, kind].tolist()
                choices.model.add(
                    own == cp_model.LinearExpr.weighted_sum([chosen[row] for row in rows], times)
                )
            yield

    return rule
