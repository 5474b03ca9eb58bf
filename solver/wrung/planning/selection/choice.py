# The solver's own lists and sums carry no types.
# pyright: reportUnknownMemberType=false
"""Choose among candidates with CP-SAT: one for each demand, no piece twice at one time."""

import math
from collections.abc import Collection, Iterator
from typing import Literal, TypeAlias

import numpy as np
from msgspec import Struct
from ortools.sat.python import cp_model

from wrung.deadline import Deadline
from wrung.planning.candidates.quota import ByClass, Quota
from wrung.planning.candidates.stock import Ints
from wrung.planning.candidates.walk import Candidates
from wrung.planning.candidates.workbench import Workbench
from wrung.planning.solvers import QuickModel, Verdict, new_solver, run

Aim: TypeAlias = Literal["least_sum", "least_largest"]


class Selection(Struct, frozen=True, kw_only=True):
    """The chosen rows, how good they are, and what no choice of these candidates can beat.

    ``spare`` is the kind of which it takes one more than there are, where that was allowed.
    """

    verdict: Verdict
    rows: Ints
    value: int
    bound: int
    spare: int | None = None


def none_chosen(verdict: Verdict) -> Selection:
    """Without rows."""
    return Selection(verdict=verdict, rows=np.zeros(0, np.int64), value=0, bound=0)


class Usage(Struct, frozen=True, kw_only=True):
    """What candidates could overdraw: the rows that use it, and how often each does.

    That is a ``kind`` at one time, or -1 for anything else.
    """

    kind: int
    capacity: int
    rows: Ints
    times: Ints


def usages(bench: Workbench, candidates: Candidates) -> Iterator[Usage]:
    """One for each clique and kind that could be overdrawn.

    What several cliques would say alike is said once.
    """
    if len(candidates) == 1:
        return  # no candidate overdraws anything by itself
    # There are many cliques where sequences meet, so all that does not depend on them comes first.
    row, column = np.nonzero(candidates.kinds >= 0)
    height = max(len(candidates), 1)
    places, times = np.unique(candidates.kinds[row, column] * height + row, return_counts=True)
    kind, row = np.divmod(places, height)
    capacities, seen = bench.stock.capacities, set[bytes]()
    edges: list[int] = np.searchsorted(kind, np.arange(len(capacities) + 1)).tolist()
    for clique in bench.problem.cliques:
        inside = np.isin(candidates.demands, clique)[row]
        used = np.bincount(kind[inside], times[inside], len(capacities))
        # What all users together cannot overdraw needs no constraint.
        for own in np.flatnonzero(used > capacities).tolist():
            first, end = edges[own : own + 2]
            here = inside[first:end].nonzero()[0] + first
            if here.tobytes() not in seen:
                seen.add(here.tobytes())
                yield Usage(
                    kind=own, capacity=int(capacities[own]), rows=row[here], times=times[here]
                )


class Most(Struct, frozen=True, kw_only=True):
    """The choice that serves the most, the most urgent class first.

    Attributes:
        verdict: ``best`` where it is proven.
        rows: the chosen rows.
        counts: by class, no choice that serves as many of those before it serves more.
    """

    verdict: Verdict
    rows: Ints
    counts: ByClass


class Choice:
    """A model over candidates, solved for one aim after another.

    If the workbench runs out of time or memory before it is made, nothing is known about any aim.
    Of a single one of the kinds ``spare``, it may take one more than there are.
    """

    def __init__(
        self,
        bench: Workbench,
        candidates: Candidates,
        served: Quota | None,
        spare: Collection[int] = (),
    ) -> None:
        self.candidates, self._tuning = candidates, bench.deadline.tuning
        self._model = QuickModel()
        self._chosen: list[cp_model.IntVar] = []
        self._kinds = spare
        self._spare: dict[int, cp_model.IntVar] = {}
        self._by_demand: list[list[int]] = [[] for _ in bench.problem.demands]
        self._entries = len(candidates)
        parts, until = self._parts(bench, candidates, served), bench.deadline
        self._whole = all(
            not until.passed
            and until.memory.room(self._entries * self._tuning.bytes_a_choice_entry)
            for _ in parts
        )

    def _parts(
        self, bench: Workbench, candidates: Candidates, served: Quota | None
    ) -> Iterator[None]:
        """Make the model; yields where it may be given up."""
        for first in range(0, len(candidates), self._tuning.choice_rows_a_look):
            yield
            self._chosen += self._model.new_bool_vars(
                min(len(candidates) - first, self._tuning.choice_rows_a_look)
            )
        numbers: list[int] = candidates.demands.tolist()
        for row, demand in enumerate(numbers):
            self._by_demand[demand].append(row)
        self._serve(served)
        self._spare = {kind: self._model.new_bool_var("") for kind in self._kinds}
        self._model.add_at_most_one(self._spare.values())
        yield
        for usage in usages(bench, candidates):
            self._entries += len(usage.rows)
            self._keep_to(usage)
            yield

    def _serve(self, quota: Quota | None) -> None:
        """At most one row for each demand; as many of each class as the quota says, if given."""
        exactly = set[int]()
        for members, count in quota.parts() if quota else ():
            numbers: list[int] = members.tolist()
            offered = [demand for demand in numbers if self._by_demand[demand]]
            if count == len(offered):
                exactly.update(offered)
            else:
                rows = sorted(row for demand in offered for row in self._by_demand[demand])
                total = cp_model.LinearExpr.sum([self._chosen[row] for row in rows])
                self._model.add(total == count)
        for demand, rows in enumerate(self._by_demand):
            own = [self._chosen[row] for row in rows]
            if demand in exactly:
                self._model.add_exactly_one(own)
            elif own:
                self._model.add_at_most_one(own)

    def _keep_to(self, usage: Usage) -> None:
        rows: list[int] = usage.rows.tolist()
        chosen, times = [self._chosen[row] for row in rows], list[int](usage.times.tolist())
        if usage.kind in self._spare:
            chosen, times = [*chosen, self._spare[usage.kind]], [*times, -1]
        elif usage.capacity == 1:
            self._model.add_at_most_one(chosen)
            return
        self._model.add(cp_model.LinearExpr.weighted_sum(chosen, times) <= usage.capacity)

    def limit_sum(self, costs: Ints, most: int, least: int | None = None) -> None:
        """No choice may cost more in sum; nor less than ``least``, where that is known."""
        if self._whole:
            own: list[int] = costs.tolist()
            total = cp_model.LinearExpr.weighted_sum(self._chosen, own)
            self._model.add(total <= most)
            if least is not None:
                self._model.add(total >= least)

    def begin_with(self, chosen: int) -> None:
        """Look first near the choice of the first so many candidates, though it may cost too much.

        Of 45 choices of 1,300 to 6,500 candidates, 18 instead of 14 come to a better plan than the
        one known, with its stacks on offer and as a hint.
        """
        for row, own in enumerate(self._chosen):
            self._model.add_hint(own, row < chosen)

    def most_served(  # noqa: PLR0913 - how far, and which of equally good ones
        self,
        alone: Quota,
        deadline: Deadline,
        *,
        effort: float = math.inf,
        capped: bool = False,
        presolve: bool = True,
        costs: Ints | None = None,
    ) -> Most:
        """As many of each class as can be; ``alone`` are no fewer than can be served at all.

        Class by class, each with as many of those before it. Where it is ``capped``, no better
        choice than ``alone`` counts. With ``costs``, of equally good choices one of least cost.
        """
        counts: list[int] = []
        spent = np.zeros(len(self.candidates), np.int64) if costs is None else costs
        # One more stack is worth more than all that a choice may cost.
        weight = int(spent.max(initial=0)) * len(alone.classes) + 1
        rows = np.zeros(0, np.int64)
        for number, most in enumerate(alone.counts):
            own = (alone.classes[self.candidates.demands] == number).astype(np.int64)
            if capped:
                self.limit_sum(own, most)
            aims = spent - own * weight
            found = self.solve("least_sum", aims, deadline, effort=effort, presolve=presolve)
            bound = most if found.verdict == "unknown" else min(-(found.bound // weight), most)
            counts.append(bound)
            rows = found.rows if len(found.rows) else rows
            if found.verdict != "best":
                left = alone.counts[len(counts) :]
                return Most(verdict=found.verdict, rows=rows, counts=(*counts, *left))
            # Only as long as it has as many is a choice limited by the cap in the next class.
            capped &= bound == most
            self.limit_sum(own, bound, least=bound)
        return Most(verdict="best", rows=rows, counts=tuple(counts))

    def solve(  # noqa: PLR0913 - an aim, and how it is searched for
        self,
        aim: Aim,
        costs: Ints,
        deadline: Deadline,
        *,
        effort: float = math.inf,
        presolve: bool = False,
        by_programme: bool = False,
    ) -> Selection:
        """The best choice for an aim, and what is proven of it.

        ``effort`` ends the search too, see `new_solver`.
        A search ``by_programme`` follows the solution of the linear programme: of 46 choices of
        1,300 to 6,300 candidates, it finds plans in 23 instead of 19, and settles 26, not 27.
        """
        if self._whole and aim == "least_sum":
            self._model.least_sum(costs)
        elif self._whole:
            self._model.minimize(self._largest(costs))
        if not self._whole or deadline.passed:
            return none_chosen("unknown")
        solver = new_solver(deadline, effort)
        solver.parameters.linearization_level = 2
        if by_programme:
            solver.parameters.search_branching = cp_model.SatParameters.LP_SEARCH
        # Measured on models of 200 to 800 candidates: up to 40 times faster without presolve.
        # It does not check the clock as it presolves.
        soon = self._entries * self._tuning.seconds_a_presolved_entry
        solver.parameters.cp_model_presolve = presolve and soon <= deadline.remaining
        # With presolve, 28 models of up to 2,700 candidates took two thirds of the time so.
        solver.parameters.cp_model_probing_level = 0
        verdict = run(solver, self._model, deadline)
        if verdict in ("impossible", "unknown"):
            return none_chosen(verdict)
        rows = np.flatnonzero([solver.boolean_value(x) for x in self._chosen])
        return Selection(
            verdict=verdict,
            rows=rows,
            value=round(solver.objective_value),
            bound=round(solver.best_objective_bound),
            spare=next((k for k, own in self._spare.items() if solver.boolean_value(own)), None),
        )

    def _largest(self, costs: Ints) -> cp_model.IntVar:
        largest = self._model.new_int_var(0, int(costs.max(initial=0)), "")
        for rows in self._by_demand:
            if rows:
                own = [self._chosen[row] for row in rows]
                expr = cp_model.LinearExpr.weighted_sum(own, costs[rows].tolist())
                self._model.add(largest >= expr)
        return largest
