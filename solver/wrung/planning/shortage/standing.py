"""Whether some demands can stand together, remembered from question to question."""

from collections.abc import Collection, Iterator
from itertools import combinations
from math import comb

import numpy as np

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


class Standing:
    """Answers from what it knows, by simple proofs, by rebuilding a plan, and finally by search.

    Attributes:
        plans: those that are known.
    """

    def __init__(
        self, problem: Problem, plan: Plan, proofs: Proofs, tuning: Tuning = TUNING
    ) -> None:
        self._tuning = tuning
        self._problem = problem
        self._proofs = proofs
        self._stacking = Stacking(problem, tuning.effort_of_standing, tuning)
        self._tries = tuning.most_sets_tried
        self.plans: list[Held] = [self._stacking.held(plan)]
        # By plan and demand, whether it has a stack.
        self._served = np.array([[stack is not None for stack in plan]])

    def first_of_size(self, size: int, deadline: Deadline) -> tuple[Verdict, tuple[int, ...]]:
        """The first verdict on a set of so many demands that is not "found", and the set."""
        if comb(len(self._problem.demands), size) > self._tuning.most_sets:
            return "unknown", ()
        for demands in self._unknown(size):
            if not self._tries or deadline.passed:
                return "unknown", demands
            self._tries -= 1
            verdict = self.verdict(demands, deadline)
            if verdict != "found":
                return verdict, demands
        return "found", ()

    def _unknown(self, size: int) -> Iterator[tuple[int, ...]]:
        """The sets that no known plan serves, one after another, while more plans become known."""
        count, seen = len(self._problem.demands), 0
        sets = np.array(list(combinations(range(count), size)), dtype=np.int16)
        while True:
            for served in self._served[seen:]:
                sets = sets[~served[sets].all(axis=1)]
            seen = len(self.plans)
            if not len(sets):
                return
            yield tuple(sets[0].tolist())

    def verdict(self, demands: Collection[int], deadline: Deadline) -> Verdict:
        """Whether one plan serves all of these: if ``found``, it is the last of `plans`."""
        served = self._served[:, [*demands]].sum(axis=1)
        if served.max() == len(demands):
            return "found"
        if self._proofs.conflict(demands):
            return "impossible"
        closest: list[int] = np.argsort(-served, kind="stable").tolist()
        for place in closest[: self._tuning.plans_rebuilt]:
            rebuilt = self._rebuilt(self.plans[place], demands, deadline)
            if rebuilt is not None:
                self._remember(rebuilt, deadline)
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
            self._remember(self._stacking.held(whole), deadline)
        return found.verdict

    def _remember(self, held: Held, deadline: Deadline) -> None:
        """Remember the plan with all served that it leaves room for."""
        often: list[int] = self._served.sum(axis=0).tolist()
        # First those that few plans serve, so that few plans settle many sets.
        for demand in sorted(range(len(held)), key=lambda k: (often[k], k)):
            if not held[demand]:
                held = self._stacking.with_stack(held, demand, deadline) or held
        self.plans.append(held)
        self._served = np.vstack([self._served, [mask > 0 for mask in held]])

    def _rebuilt(self, plan: Held, demands: Collection[int], deadline: Deadline) -> Held | None:
        """A plan of these demands that keeps the stacks it can, or None if none is found so."""
        kept = tuple(mask if k in demands else 0 for k, mask in enumerate(plan))
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
