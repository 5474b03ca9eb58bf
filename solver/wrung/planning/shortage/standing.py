"""Whether some demands can stand together, remembered from question to question."""

from collections.abc import Collection, Iterator
from typing import Final, Literal, TypeAlias

from wrung.planning.deadline import Deadline
from wrung.planning.engines import ask
from wrung.planning.finding import Plan
from wrung.planning.parts import built, filled, free_pieces, put, rivals, spread, subproblem
from wrung.planning.problem import Problem
from wrung.planning.shortage.proofs import Proofs

Verdict: TypeAlias = Literal["stand", "conflict", "undecided"]

_PLANS_REBUILT: Final = 3

_EFFORT: Final = 1_600
"""Stacks built, for all questions together: about half a second, and the same on every machine."""
_EFFORT_OF_A_SEARCH: Final = 240


class Standing:
    """Answers by what it knows, by rebuilding a plan, by simple proofs, and at last by search."""

    def __init__(self, problem: Problem, plan: Plan, proofs: Proofs) -> None:
        self._problem = problem
        self._proofs = proofs
        self._effort = _EFFORT
        self._plans: list[tuple[frozenset[int], Plan]] = []
        self._remember(plan)

    def known(self, demands: Collection[int]) -> bool:
        """Whether a plan found so far serves all of these."""
        return any(served.issuperset(demands) for served, _ in self._plans)

    def verdict(self, demands: Collection[int], deadline: Deadline) -> Verdict:
        """Whether all of these can be served by one plan."""
        if self.known(demands):
            return "stand"
        for _, plan in self._closest(demands):
            rebuilt = self._rebuilt(plan, demands, deadline)
            if rebuilt is not None:
                self._fill(rebuilt, deadline)
                return "stand"
        if self._proofs.conflict(demands):
            return "conflict"
        return self._searched(demands, deadline)

    def _searched(self, demands: Collection[int], deadline: Deadline) -> Verdict:
        if deadline.passed or self._effort <= 0:
            return "undecided"
        # A flat charge, as the time that a search takes differs from machine to machine.
        self._effort -= _EFFORT_OF_A_SEARCH
        finding = ask(subproblem(self._problem, demands), deadline).finding
        # A bound is proof even where the time ended the search.
        if finding.bounds.served < len(demands):
            return "conflict"
        if finding.plan is None or None in finding.plan:
            return "undecided"
        plan = spread(finding.plan, demands, len(self._problem.demands))
        self._fill(plan, deadline)
        return "stand"

    def _fill(self, plan: Plan, deadline: Deadline) -> None:
        """Remember the plan with all served that it leaves room for."""
        self._effort -= plan.count(None)
        self._remember(filled(self._problem, plan, deadline))

    def _remember(self, plan: Plan) -> None:
        served = frozenset(k for k, stack in enumerate(plan) if stack is not None)
        self._plans.append((served, plan))

    def _closest(self, demands: Collection[int]) -> list[tuple[frozenset[int], Plan]]:
        wanted = frozenset(demands)
        return sorted(self._plans, key=lambda known: -len(known[0] & wanted))[:_PLANS_REBUILT]

    def _rebuilt(self, plan: Plan, demands: Collection[int], deadline: Deadline) -> Plan | None:
        """A plan of these demands that keeps the stacks it can, or None if none is found so."""
        kept: Plan = tuple(stack if k in demands else None for k, stack in enumerate(plan))
        for demand in sorted(demands):
            if kept[demand] is None:
                changed = self._with(kept, demand, deadline)
                if changed is None:
                    return None
                kept = changed
        return kept

    def _with(self, plan: Plan, demand: int, deadline: Deadline) -> Plan | None:
        """The plan with one more demand served, if need be by building another stack anew."""
        return next(
            (
                served
                for given_up in self._without_one(plan, demand)
                if (served := self._served(given_up, demand, plan, deadline)) is not None
            ),
            None,
        )

    def _without_one(self, plan: Plan, demand: int) -> Iterator[Plan]:
        yield plan
        for rival in sorted(rivals(self._problem, demand)):
            if plan[rival] is not None:
                yield put(plan, rival, None)

    def _served(self, plan: Plan, demand: int, whole: Plan, deadline: Deadline) -> Plan | None:
        """Build the demand, then whatever the whole plan serves and this one does not."""
        given_up = [k for k, stack in enumerate(whole) if stack is not None and plan[k] is None]
        # Each stack built counts, so that effort ends alike on every machine.
        for wanted in (demand, *given_up):
            if self._effort <= 0:
                return None
            self._effort -= 1
            free = free_pieces(self._problem, plan, wanted)
            stack = built(self._problem, wanted, free, deadline)
            if stack is None:
                return None
            plan = put(plan, wanted, stack)
        return plan
