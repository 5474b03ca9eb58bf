"""Whether some demands can stand together, remembered from question to question."""

from collections.abc import Collection

from msgspec import Struct

from wrung.deadline import Deadline
from wrung.planning.assignment import hand_out
from wrung.planning.building.proofs import Proofs
from wrung.planning.building.stacking import Held, Stacking
from wrung.planning.engines import serve_all
from wrung.planning.finding import IMPOSSIBLE, UNDECIDED, Plan, Result
from wrung.planning.objectives.serving import bench_for_serving, serve_soon
from wrung.planning.parts import spread, subproblem
from wrung.planning.problem import Problem
from wrung.planning.solvers import Verdict
from wrung.tuning import TUNING, Tuning


class Known(Struct, frozen=True, kw_only=True):
    """A plan as it is remembered.

    Attributes:
        served: the demands that have a stack.
        held: by demand, the pieces of its stack; 0 without one.
    """

    served: frozenset[int]
    held: Held


class Standing:
    """Answers from what it knows, by simple proofs, by rebuilding a plan, and finally by search."""

    def __init__(
        self, problem: Problem, plan: Plan, proofs: Proofs, tuning: Tuning = TUNING
    ) -> None:
        self._tuning = tuning
        self._problem = problem
        self._proofs = proofs
        self._stacking = Stacking(problem, tuning.effort_of_standing, tuning)
        # How many of the plans known serve each demand.
        self._often = [0] * len(problem.demands)
        self.plans: list[Known] = []
        self._remember(self._stacking.held(plan))

    def verdict(self, demands: Collection[int], deadline: Deadline) -> Verdict:
        """Whether one plan serves all of these: if ``found``, it is the last of `plans`."""
        if any(plan.served.issuperset(demands) for plan in self.plans):
            return "found"
        if self._proofs.conflict(demands):
            return "impossible"
        for plan in self._closest(demands):
            rebuilt = self._rebuilt(plan, demands, deadline)
            if rebuilt is not None:
                self._fill(rebuilt, deadline)
                return "found"
        return self._searched(demands, deadline)

    def _searched(self, demands: Collection[int], deadline: Deadline) -> Verdict:
        if deadline.passed or self._stacking.effort <= 0:
            return "unknown"
        # A flat charge, as the time that a search takes differs from machine to machine.
        self._stacking.effort -= deadline.tuning.effort_of_a_search
        part = subproblem(self._problem, demands)
        found = _soon(part, deadline) or serve_all(part, deadline)
        if found.plan is not None:
            whole = spread(found.plan, demands, len(self._problem.demands))
            self._fill(self._stacking.held(whole), deadline)
        return found.verdict

    def _fill(self, held: Held, deadline: Deadline) -> None:
        """Remember the plan with all served that it leaves room for."""
        missing = [demand for demand, mask in enumerate(held) if not mask]
        # First those that few plans serve, so that few plans settle many sets.
        for demand in sorted(missing, key=lambda k: (self._often[k], k)):
            held = self._stacking.with_stack(held, demand, deadline) or held
        self._remember(held)

    def _remember(self, held: Held) -> None:
        served = frozenset(demand for demand, mask in enumerate(held) if mask)
        self.plans.append(Known(served=served, held=held))
        for demand in served:
            self._often[demand] += 1

    def _closest(self, demands: Collection[int]) -> list[Known]:
        wanted = frozenset(demands)
        return sorted(self.plans, key=lambda plan: -len(plan.served & wanted))[
            : self._tuning.plans_rebuilt
        ]

    def _rebuilt(self, plan: Known, demands: Collection[int], deadline: Deadline) -> Held | None:
        """A plan of these demands that keeps the stacks it can, or None if none is found so."""
        kept = tuple(mask if k in demands else 0 for k, mask in enumerate(plan.held))
        for demand in sorted(demands):
            if not kept[demand]:
                changed = self._stacking.with_one_more(kept, demand, deadline)
                if changed is None:
                    return None
                kept = changed
        return kept


def _soon(part: Problem, deadline: Deadline) -> Result | None:
    """As `serve_all`, with less effort; None if there are no tables for it.

    Which plan is best does not matter here, and takes much longer to find.
    """
    if part.signed or len(part.priorities) > 1:
        return None
    bench = bench_for_serving(part, deadline)
    if bench is None:
        return None
    wanted = len(part.demands)
    soon = serve_soon(bench, wanted, wanted - 1, deadline)
    if len(soon.chosen) == wanted:
        return Result(verdict="found", plan=hand_out(bench, soon.chosen))
    return IMPOSSIBLE if soon.most < wanted else UNDECIDED
