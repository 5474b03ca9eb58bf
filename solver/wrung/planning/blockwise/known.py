"""What a search knows so far: the best plan, and what is proven of every plan."""

from typing import Final, Literal, TypeAlias

from wrung.answers import Bounds, Objective
from wrung.planning.finding import Finding, Plan, totals
from wrung.planning.problem import Problem

Goal: TypeAlias = Literal["blocks", "largest", "total"]
"""Total blocks, the largest worst-case error of a stack, the total of these errors."""

_GOALS: Final[dict[Objective, tuple[Goal, ...]]] = {
    "fewest_blocks": ("blocks", "largest", "total"),
    "least_error": ("largest", "total", "blocks"),
}


class Known:
    """Kept up to date by the search, and turned into its finding at any time.

    Attributes:
        plan: the best plan so far.
        served_at_most: no plan serves more demands.
        goals: those of the objective, in their order.
    """

    def __init__(self, problem: Problem, plan: Plan, served_at_most: int) -> None:
        self.plan = plan
        self.served_at_most = served_at_most
        self.goals = _GOALS[problem.objective]
        self._problem = problem
        self._bounds: dict[Goal, int] = dict.fromkeys(self.goals, 0)
        # Asked for again and again of the same plan.
        self._last = (plan, self._reached(plan))

    @property
    def served(self) -> int:
        """How many demands the plan serves."""
        return len(self.plan) - self.plan.count(None)

    @property
    def served_proven(self) -> bool:
        """Whether no plan serves more demands than the plan so far."""
        return self.served == self.served_at_most

    def offer(self, plan: Plan) -> None:
        """Take a plan if it is better."""
        if plan is self.plan:
            return
        self.plan = min(self.plan, plan, key=self._rank)

    def serves_at_most(self, bound: int) -> None:
        """No plan serves more than the bound."""
        self.served_at_most = min(self.served_at_most, bound)

    def bounded(self, goal: Goal, bound: int) -> None:
        """No plan does better by the goal that serves as many and keeps the goals before it."""
        # A later search may prove less than an earlier one; what was proven stays.
        self._bounds[goal] = max(bound, self._bounds[goal])
        # The largest error is part of the total.
        if goal == "largest":
            self.bounded("total", bound)

    def value(self, goal: Goal) -> int:
        """What the plan so far reaches; errors in quanta."""
        return self._values(self.plan)[goal]

    def settled(self, goal: Goal) -> bool:
        """Whether the plan so far meets the bounds of the goals up to this one."""
        values = self._values(self.plan)
        upto = self.goals[: self.goals.index(goal) + 1]
        return all(values[g] <= self._bounds[g] for g in upto)

    def finding(self) -> Finding:
        """All of it. A plan that serves nothing says nothing, unless that is proven best."""
        proven = self.served_proven
        return Finding(
            plan=self.plan if proven or self.served else None,
            served_proven=proven,
            objective_proven=proven and self.settled(self.goals[-1]),
            bounds=Bounds(
                served=self.served_at_most,
                total_blocks=self._bound("blocks"),
                largest_worst_case_error=self._bound("largest"),
                total_worst_case_error=self._bound("total"),
            ),
        )

    def _bound(self, goal: Goal) -> int | None:
        """The bound, where all that comes before the goal is settled and something is known."""
        before = self.goals[: self.goals.index(goal)]
        if not self.served_proven or not all(self.settled(g) for g in before):
            return None
        return self._bounds[goal] if self.settled(goal) else self._bounds[goal] or None

    def _rank(self, plan: Plan) -> tuple[int, ...]:
        values = self._values(plan)
        return (plan.count(None), *(values[goal] for goal in self.goals))

    def _values(self, plan: Plan) -> dict[Goal, int]:
        if plan is not self._last[0]:
            self._last = (plan, self._reached(plan))
        return self._last[1]

    def _reached(self, plan: Plan) -> dict[Goal, int]:
        reached = totals(self._problem, plan)
        return {
            "blocks": reached.blocks,
            "largest": reached.largest_error,
            "total": reached.total_error,
        }
