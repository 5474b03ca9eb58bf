# The solver's own sums carry no types.
# pyright: reportUnknownMemberType=false
"""Plans as good as one in hand: stacks to choose from and their pieces, or all, over blocks."""

from collections.abc import Iterator, Sequence

import numpy as np
from ortools.sat.python import cp_model

from wrung.deadline import Deadline
from wrung.planning.assignment import assigned
from wrung.planning.blockwise.rules import RULES
from wrung.planning.blockwise.scaled import Scaled
from wrung.planning.blockwise.solving import Result, model_of, solve
from wrung.planning.candidates.walk import Candidates
from wrung.planning.finding import Plan, Totals, values_of
from wrung.planning.problem import Problem
from wrung.planning.solvers import QuickModel, new_solver, run
from wrung.planning.succession.as_good import AsGood, Uses
from wrung.planning.succession.counting import counted


class BlockChoice:
    """All plans as good as one, over single blocks: for where tables cannot be made."""

    def __init__(
        self, problem: Problem, plan: Plan, marks: Sequence[int], deadline: Deadline
    ) -> None:
        self._deadline = deadline
        scaled = Scaled(problem, marks)
        self._kinds, self._demands = scaled.pieces, range(len(problem.demands))
        self._choices = model_of(scaled, RULES, deadline)
        if self._choices is not None:
            values = values_of(problem, plan)
            for (goal, grain), value in zip(self._choices.goals(), values, strict=True):
                self._choices.model.add(goal <= value // grain)

    @property
    def counted(self) -> AsGood | None:
        """As `PieceChoice.counted`; None if there was no time to make it."""
        if self._choices is None:
            return None
        uses = [self._choices.uses(demand) for demand in self._demands]
        return AsGood(model=self._choices.model, kinds=self._kinds, uses=uses)

    def least(self, objective: cp_model.LinearExpr, start: Plan) -> Result:
        """As `PieceChoice.least`."""
        if self._choices is None:
            return Result()
        return solve(self._choices, objective, start, self._deadline)


class PieceChoice:
    """A stack for every demand, and its pieces, no worse in sum than some values.

    Stacks are candidates over kinds; each kind is parted into pieces of one mark.
    """

    def __init__(  # noqa: PLR0913
        self,
        problem: Problem,
        candidates: Candidates,
        stock: Sequence[Sequence[int]],
        values: Totals,
        *,
        marks: Sequence[int],
        deadline: Deadline,
    ) -> None:
        self._kinds: list[tuple[int, ...]] = []
        self._problem, self._deadline = problem, deadline
        self._candidates, self._used = candidates, counted(candidates, len(stock))
        self._parts = [list(self._parted(pieces, marks)) for pieces in stock]
        self._model = QuickModel()
        self._chosen = self._model.new_bool_vars(len(candidates))
        self._limit(candidates.counts.tolist(), values.blocks)
        self._limit(candidates.errors.tolist(), values.total_error)
        self._uses = [self._stack(demand) for demand in range(len(problem.demands))]
        self._fit()

    @property
    def counted(self) -> AsGood:
        """The plans of these stacks, to be counted and limited."""
        return AsGood(model=self._model, kinds=self._kinds, uses=self._uses)

    def least(self, objective: cp_model.LinearExpr, start: Plan) -> Result:
        """The plan with the least of a sum, from one to begin with."""
        self._begin_with(start)
        self._model.minimize(objective)
        solver = new_solver(self._deadline, self._deadline.tuning.effort_for_changes)
        solver.parameters.cp_model_presolve = False
        solver.parameters.linearization_level = 2
        if run(solver, self._model, self._deadline) in ("impossible", "unknown"):
            return Result()
        counts = [{kind: solver.value(use) for kind, use in own.items()} for own in self._uses]
        plan = assigned(self._problem, counts, self._kinds)
        return Result(plan=plan, bound=round(solver.best_objective_bound))

    def _parted(self, pieces: Sequence[int], marks: Sequence[int]) -> Iterator[int]:
        """The kinds that these pieces make, which are added to all."""
        groups: dict[object, list[int]] = {}
        for piece in pieces:
            groups.setdefault(marks[piece], []).append(piece)
        for group in groups.values():
            yield len(self._kinds)
            self._kinds.append(tuple(group))

    def _limit(self, costs: list[int], most: int) -> None:
        self._model.add(cp_model.LinearExpr.weighted_sum(self._chosen, costs) <= most)

    def _stack(self, demand: int) -> Uses:
        rows = np.flatnonzero(self._candidates.demands == demand)
        chosen = [self._chosen[row] for row in rows.tolist()]
        self._model.add_exactly_one(chosen)
        uses: dict[int, cp_model.IntVar] = {}
        for kind in np.flatnonzero(self._used[rows].any(axis=0)).tolist():
            times: list[int] = self._used[rows, kind].tolist()
            own = {
                part: self._model.new_int_var(0, min(len(self._kinds[part]), max(times)), "")
                for part in self._parts[kind]
            }
            used = cp_model.LinearExpr.weighted_sum(chosen, times)
            self._model.add(cp_model.LinearExpr.sum(list(own.values())) == used)
            uses |= own
        return uses

    def _fit(self) -> None:
        """No clique uses more pieces of a kind than there are; what several say is said once."""
        said = set[tuple[int, ...]]()
        for clique in self._problem.cliques:
            for kind, pieces in enumerate(self._kinds):
                using = tuple(demand for demand in clique if kind in self._uses[demand])
                if len(using) > 1 and (kind, *using) not in said:
                    said.add((kind, *using))
                    uses = [self._uses[demand][kind] for demand in using]
                    self._model.add(cp_model.LinearExpr.sum(uses) <= len(pieces))

    def _begin_with(self, plan: Plan) -> None:
        self._model.clear_hints()  # type: ignore[no-untyped-call]  # has no type information
        for stack, uses in zip(plan, self._uses, strict=True):
            for kind, use in uses.items():
                self._model.add_hint(use, len({*self._kinds[kind]} & {*(stack or ())}))
