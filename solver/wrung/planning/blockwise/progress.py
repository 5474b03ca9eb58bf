"""What a search knows so far: the best plan, and what is proven about every plan."""

from wrung.planning.finding import Finding, Plan, found, values_of
from wrung.planning.problem import Problem
from wrung.planning.proof import GOALS, Goal, staged


class Progress:
    """Kept up to date by the search, and turned into its finding at any time.

    Attributes:
        plan: the best plan so far.
        served_at_most: no plan serves more demands.
        goals: what comes after the number served, in order.
    """

    def __init__(self, problem: Problem, plan: Plan, served_at_most: int) -> None:
        self.plan = plan
        self.served_at_most = served_at_most
        self.goals = GOALS[problem.objective][1:]
        self._problem = problem
        self._bounds: dict[Goal, int] = dict.fromkeys(self.goals, 0)
        # Needed again and again for the same plan.
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
        """Keep a plan if it is better."""
        if plan is self.plan:
            return
        self.plan = min(self.plan, plan, key=self._rank)

    def serves_at_most(self, bound: int) -> None:
        """Record that no plan serves more than the bound."""
        self.served_at_most = min(self.served_at_most, bound)

    def bounded(self, goal: Goal, bound: int) -> None:
        """Record a bound on the goal for plans that serve as many and keep the goals before it."""
        # A later search may prove less than an earlier one; what was proven stays.
        self._bounds[goal] = max(bound, self._bounds[goal])
        # The largest error is part of the total.
        if goal == "largest":
            self.bounded("total", bound)

    def value(self, goal: Goal) -> int:
        """The values of the plan so far; errors in quanta."""
        return self._values(self.plan)[goal]

    def settled(self, goal: Goal) -> bool:
        """Whether the plan so far meets the bounds of the goals up to this one."""
        values = self._values(self.plan)
        upto = self.goals[: self.goals.index(goal) + 1]
        return all(values[g] <= self._bounds[g] for g in upto)

    def finding(self) -> Finding:
        """All of it. A plan that serves nothing says nothing, unless that is proven best."""
        own = (self._values(self.plan)[goal] for goal in self.goals)
        bounds = (self.served_at_most, *(self._bounds[goal] for goal in self.goals))
        proof = staged((self.served, *own), bounds)
        plan = self.plan if self.served_proven or self.served else None
        return found(self._problem, plan, proof)

    def _rank(self, plan: Plan) -> tuple[int, ...]:
        values = self._values(plan)
        return (plan.count(None), *(values[goal] for goal in self.goals))

    def _values(self, plan: Plan) -> dict[Goal, int]:
        if plan is not self._last[0]:
            self._last = (plan, self._reached(plan))
        return self._last[1]

    def _reached(self, plan: Plan) -> dict[Goal, int]:
        goals = GOALS[self._problem.objective]
        return dict(zip(goals, values_of(self._problem, plan), strict=True))
