# The solver's own lists and sums carry no types.
# pyright: reportUnknownMemberType=false
"""Any choice within a limit, for CP-SAT, with what prices say about it as rows of the model."""

from typing import Final

import numpy as np
from ortools.sat.python import cp_model

from wrung.deadline import Deadline
from wrung.planning.candidates.stock import Ints
from wrung.planning.selection.choice import serve
from wrung.planning.selection.relaxing import Reason
from wrung.planning.selection.set_packing import SetPacking
from wrung.planning.solvers import QuickModel, Verdict, new_solver, run

_PARTS: Final = 4096
"""Parts of the allowed excess: the solver distinguishes no smaller ones."""


def choose_within(
    packing: SetPacking, reason: Reason, limit: int, deadline: Deadline
) -> tuple[Verdict, Ints]:
    """Any choice that costs no more than the limit: its columns."""
    keep = reason.columns()
    model = _PricedModel(packing, reason.where(keep), keep, limit)
    soon = new_solver(deadline, deadline.tuning.effort_at_once)
    verdict, chosen = _solved(model, soon, deadline, presolve=False)
    if verdict == "unknown" and not deadline.passed:
        verdict, chosen = _solved(model, new_solver(deadline), deadline, presolve=True)
    return verdict, keep[chosen]


def _solved(
    model: "_PricedModel", solver: cp_model.CpSolver, deadline: Deadline, *, presolve: bool
) -> tuple[Verdict, Ints]:
    solver.parameters.cp_model_presolve = presolve
    # The rows of the excess take the place of the solver's own linear programme.
    solver.parameters.linearization_level = 0
    # In measurements, probing does not pay for its time.
    solver.parameters.cp_model_probing_level = 0
    verdict = run(solver, model.model, deadline)
    if verdict in ("impossible", "unknown"):
        return verdict, np.zeros(0, np.int64)
    # There may be a better one: the model has no objective.
    return "found", np.flatnonzero([solver.boolean_value(x) for x in model.chosen])


class _PricedModel:
    def __init__(self, packing: SetPacking, reason: Reason, keep: Ints, limit: int) -> None:
        self.model = QuickModel()
        self.chosen = [self.model.new_bool_var("") for _ in range(len(keep))]
        serve(self.model, self.chosen, packing.demands[keep], packing.quota)
        self._explain(reason, len(packing.rows))
        costs: list[int] = packing.costs[keep].tolist()
        self.model.add(cp_model.LinearExpr.weighted_sum(self.chosen, costs) <= limit)

    def _explain(self, reason: Reason, needed: int) -> None:
        """Its rows, and that its excess is limited; without a price, cuts are not needed."""
        # What adds up to the excess: columns above the least of their demand, rows left unused.
        terms: list[cp_model.IntVar] = list(self.chosen)
        each: list[int] = reason.above.tolist()
        rows, prices = reason.rows, reason.prices.tolist()
        edges: list[int] = np.searchsorted(rows.row, np.arange(len(rows) + 1)).tolist()
        columns: list[int] = rows.column.tolist()
        times, there = rows.times.tolist(), rows.there.tolist()
        for row, price in enumerate(prices):
            entries = slice(edges[row], edges[row + 1])
            users = [self.chosen[column] for column in columns[entries]]
            if price:
                terms.append(self._left(users, times[entries], there[row]))
                each.append(price)
            elif row < needed:
                self._keep_to(users, times[entries], there[row])
        self._limit(terms, each, reason.excess)

    def _left(self, users: list[cp_model.IntVar], times: list[int], there: int) -> cp_model.IntVar:
        """What a choice leaves unused of a row."""
        unused = self.model.new_int_var(0, there, "")
        if there == 1 and set(times) <= {1}:
            self.model.add_exactly_one([*users, unused])
        else:
            self.model.add(cp_model.LinearExpr.weighted_sum(users, times) + unused == there)
        return unused

    def _keep_to(self, users: list[cp_model.IntVar], times: list[int], there: int) -> None:
        if there == 1 and set(times) <= {1}:
            self.model.add_at_most_one(users)
        else:
            self.model.add(cp_model.LinearExpr.weighted_sum(users, times) <= there)

    def _limit(self, terms: list[cp_model.IntVar], each: list[int], excess: int) -> None:
        # Rounded down, every part of the sum says no more than is true.
        part = max(excess // _PARTS, 1)
        most = excess // part
        # Beyond all that is allowed, more is no different, but sums must stay small.
        parts = [min(n // part, most + 1) for n in each]
        self.model.add(cp_model.LinearExpr.weighted_sum(terms, parts) <= most)
