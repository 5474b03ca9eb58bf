"""Whether some demands can stand together, remembered from question to question."""

from collections.abc import Collection, Iterator, Sequence
from typing import Final, Literal, TypeAlias

from msgspec import Struct

from wrung.planning.building.builder import Builder, held_by
from wrung.planning.building.coarse_tables import Mask
from wrung.planning.deadline import Deadline
from wrung.planning.engines import ask
from wrung.planning.finding import Plan
from wrung.planning.parts import rivals, spread, subproblem
from wrung.planning.problem import Problem
from wrung.planning.shortage.proofs import Proofs

Verdict: TypeAlias = Literal["stand", "conflict", "undecided"]

_PLANS_REBUILT: Final = 3

_EFFORT: Final = 5_000
"""Stacks asked for, for all questions together, the same on every machine: some 0.1 s."""
_EFFORT_FROM_NOTHING: Final = 200
_EFFORT_OF_A_SEARCH: Final = 600


class Known(Struct, frozen=True, kw_only=True):
    """A plan as it is remembered.

    Attributes:
        served: the demands that have a stack.
        held: by demand, the pieces that nothing else can use at its time; 0 without a stack.
    """

    served: frozenset[int]
    held: tuple[Mask, ...]


class Standing:
    """Answers by what it knows, by simple proofs, by rebuilding a plan, and at last by search."""

    def __init__(self, problem: Problem, plan: Plan, proofs: Proofs) -> None:
        self._problem = problem
        self._proofs = proofs
        self._builder = Builder(problem)
        self._rivals = [sorted(rivals(problem, k)) for k in range(len(problem.demands))]
        self._effort = _EFFORT
        # How many of the plans known serve each demand.
        self._often = [0] * len(problem.demands)
        self.plans: list[Known] = []
        self._remember(self._held(plan))

    def verdict(self, demands: Collection[int], deadline: Deadline) -> Verdict:
        """Whether all of these can be served by one plan, which is then the last of `plans`."""
        if any(plan.served.issuperset(demands) for plan in self.plans):
            return "stand"
        if self._proofs.conflict(demands):
            return "conflict"
        for plan in self._closest(demands):
            rebuilt = self._rebuilt(plan, demands, deadline)
            if rebuilt is not None:
                self._fill(rebuilt, deadline)
                return "stand"
        return self._built(demands, deadline) or self._searched(demands, deadline)

    def _built(self, demands: Collection[int], deadline: Deadline) -> Verdict | None:
        """Whether they stand if built from nothing, those first that have the least choice."""
        ordered = sorted(demands, key=lambda k: (self._builder.choice(k), k))
        end = self._effort - _EFFORT_FROM_NOTHING
        held = self._completed((0,) * len(self._rivals), tuple(ordered), end, deadline)
        if held is None:
            return None
        self._fill(held, deadline)
        return "stand"

    def _completed(
        self, held: tuple[Mask, ...], demands: Sequence[int], end: int, deadline: Deadline
    ) -> tuple[Mask, ...] | None:
        """The plan with these demands served, too, until so little effort is left."""
        if not demands:
            return held
        taken = self._taken(held, demands[0])
        for stack in self._builder.stacks(demands[0], taken, deadline):
            self._effort -= self._builder.effort
            if self._effort < max(end, 0):
                return None
            served = _put(held, demands[0], stack)
            completed = self._completed(served, demands[1:], end, deadline)
            if completed is not None:
                return completed
        return None

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
        self._fill(self._held(plan), deadline)
        return "stand"

    def _held(self, plan: Plan) -> tuple[Mask, ...]:
        return tuple(held_by(self._problem, stack or ()) for stack in plan)

    def _fill(self, held: tuple[Mask, ...], deadline: Deadline) -> None:
        """Remember the plan with all served that it leaves room for."""
        missing = [demand for demand, mask in enumerate(held) if not mask]
        self._effort -= self._builder.effort * len(missing)
        # Those first that few plans serve, so that few plans show much.
        for demand in sorted(missing, key=lambda k: (self._often[k], k)):
            held = self._with_stack(held, demand, deadline) or held
        self._remember(held)

    def _remember(self, held: tuple[Mask, ...]) -> None:
        served = frozenset(demand for demand, mask in enumerate(held) if mask)
        self.plans.append(Known(served=served, held=held))
        for demand in served:
            self._often[demand] += 1

    def _closest(self, demands: Collection[int]) -> list[Known]:
        wanted = frozenset(demands)
        return sorted(self.plans, key=lambda plan: -len(plan.served & wanted))[:_PLANS_REBUILT]

    def _rebuilt(
        self, plan: Known, demands: Collection[int], deadline: Deadline
    ) -> tuple[Mask, ...] | None:
        """A plan of these demands that keeps the stacks it can, or None if none is found so."""
        kept = tuple(mask if k in demands else 0 for k, mask in enumerate(plan.held))
        for demand in sorted(demands):
            if not kept[demand]:
                changed = self._with(kept, demand, deadline)
                if changed is None:
                    return None
                kept = changed
        return kept

    def _with(
        self, held: tuple[Mask, ...], demand: int, deadline: Deadline
    ) -> tuple[Mask, ...] | None:
        """The plan with one more demand served, if need be by building another stack anew."""
        tries = (
            self._with_all(without, anew, deadline) for without, anew in self._ways(held, demand)
        )
        return next((served for served in tries if served is not None), None)

    def _ways(
        self, held: tuple[Mask, ...], demand: int
    ) -> Iterator[tuple[tuple[Mask, ...], tuple[int, ...]]]:
        """Plans with at most one stack given up, and what is then to be built, in turn."""
        yield held, (demand,)
        for rival in self._rivals[demand]:
            if held[rival]:
                yield _put(held, rival, 0), (demand, rival)

    def _with_all(
        self, held: tuple[Mask, ...], demands: Collection[int], deadline: Deadline
    ) -> tuple[Mask, ...] | None:
        # Each stack built counts, so that effort ends alike on every machine.
        for demand in demands:
            if self._effort <= 0:
                return None
            self._effort -= self._builder.effort
            changed = self._with_stack(held, demand, deadline)
            if changed is None:
                return None
            held = changed
        return held

    def _with_stack(
        self, held: tuple[Mask, ...], demand: int, deadline: Deadline
    ) -> tuple[Mask, ...] | None:
        stack = self._builder.stack(demand, self._taken(held, demand), deadline)
        return _put(held, demand, stack) if stack else None

    def _taken(self, held: tuple[Mask, ...], demand: int) -> Mask:
        taken = 0
        for rival in self._rivals[demand]:
            taken |= held[rival]
        return taken


def _put(held: tuple[Mask, ...], demand: int, mask: Mask) -> tuple[Mask, ...]:
    return (*held[:demand], mask, *held[demand + 1 :])
