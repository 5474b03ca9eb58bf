# The solver's own sums carry no types.
# pyright: reportUnknownMemberType=false
"""The plans that are as good as one in hand, as a model, and what it counts of them.

It is the model over single blocks. Where there are tables, one rule takes the place of most others:
each stack is one of some candidates over kinds, whose pieces may be told apart by marks.
"""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from functools import partial
from typing import Final, TypeAlias

import numpy as np
import numpy.typing as npt
from msgspec import Struct
from ortools.sat.python import cp_model

from wrung.deadline import Deadline
from wrung.planning.blockwise.choices import Choices, Rule, model_of, solve
from wrung.planning.blockwise.rules import RULES, single_use
from wrung.planning.blockwise.scaled import Scaled
from wrung.planning.candidates.stock import by_error
from wrung.planning.candidates.walk import Candidates
from wrung.planning.finding import Plan, Result, totals, values_of
from wrung.planning.problem import Problem
from wrung.planning.succession.counting import Changes, Cost, Step

_LINEAR: Final = 2
"""How much of it the solver takes into its linear programme where there are candidates."""

_Uses: TypeAlias = npt.NDArray[np.int16]
"""No stack has more pieces; small, as there may be many kinds of blocks."""


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


def as_good(
    problem: Problem,
    plan: Plan,
    marks: Sequence[int],
    deadline: Deadline,
    candidates: Candidates | None = None,
) -> AsGood | None:
    """All plans no worse than one by any goal; None without time or room to make the model.

    With ``candidates`` over kinds by error, those that are made of these.
    """
    allowed: list[set[int]] | None = None
    rules: tuple[Rule, ...] = (*RULES, partial(_no_worse, plan))
    if candidates is not None:
        stock = by_error(problem).pieces
        used = _counted(candidates, len(stock))
        kinds = (used[candidates.demands == k].any(axis=0) for k in range(len(plan)))
        allowed = [{k for kind in np.flatnonzero(own) for k in stock[kind]} for own in kinds]
        rules = (single_use, partial(_one_of, plan, candidates, used))
    choices = model_of(Scaled(problem, marks, allowed), rules, deadline)
    among = candidates is not None
    return None if choices is None else AsGood(choices=choices, deadline=deadline, among=among)


def _counted(candidates: Candidates, kinds: int) -> _Uses:
    """How many pieces of each kind a candidate uses: one row per candidate, one column per kind."""
    uses = np.zeros((len(candidates), kinds), np.int16)
    row, column = np.nonzero(candidates.kinds >= 0)
    np.add.at(uses, (row, candidates.kinds[row, column]), 1)
    return uses


def _no_worse(plan: Plan, scaled: Scaled, choices: Choices) -> Iterator[None]:
    """No value of the objective is worse than that of the plan."""
    for (goal, grain), value in zip(choices.goals(), values_of(scaled.problem, plan), strict=True):
        choices.model.add(goal <= value // grain)
    yield


def _one_of(
    plan: Plan, candidates: Candidates, used: _Uses, scaled: Scaled, choices: Choices
) -> Iterator[None]:
    """Each stack is one of the candidates, and their sums are no worse than those of the plan."""
    most, stock = totals(scaled.problem, plan), by_error(scaled.problem).pieces
    chosen = choices.model.new_bool_vars(len(candidates))
    for costs, limit in (
        (candidates.counts, most.blocks),
        (candidates.errors, most.total_error),
    ):
        total = cp_model.LinearExpr.weighted_sum(chosen, costs.tolist())
        choices.model.add(total <= limit)
    for demand, served in enumerate(choices.served):
        rows = np.flatnonzero(candidates.demands == demand)
        own = [chosen[row] for row in rows.tolist()]
        choices.model.add_exactly_one(own)
        choices.model.add(served == 1)
        # Bodies have no pieces; that their steps are used once is a rule for itself.
        for kind in filter(stock.__getitem__, np.flatnonzero(used[rows].any(axis=0)).tolist()):
            parts = sorted({scaled.kind_of[piece] for piece in stock[kind]})
            uses = choices.sum([choices.uses(demand)[part] for part in parts])
            times: list[int] = used[rows, kind].tolist()
            choices.model.add(uses == cp_model.LinearExpr.weighted_sum(own, times))
        yield
