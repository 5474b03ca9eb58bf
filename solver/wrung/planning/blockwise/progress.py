"""What a search knows so far: the best plan, and what is proven about every plan."""

from wrung.planning.candidates.quota import Counts
from wrung.planning.finding import Finding, Plan, found, totals, unserved, values_of
from wrung.planning.problem import Problem
from wrung.planning.proof import Goal, Values, goals_of, staged


class Progress:
    """Kept up to date by the search, and turned into its finding at any time.

    Attributes:
        plan: the best plan so far.
        served_at_most: by class, no plan that serves as many of those before it serves more.
        goals: what comes after the numbers served, in order.
    """

    def __init__(self, problem: Problem, plan: Plan, served_at_most: Counts) -> None:
        self.plan = plan
        self.served_at_most = served_at_most
        self.goals = goals_of(problem)[len(problem.priorities) :]
        self._problem = problem
        self._bounds: dict[Goal, int] = dict.fromkeys(self.goals, 0)
        # Needed again and again for the same plan.
        self._last = (plan, values_of(problem, plan))

    @property
    def served(self) -> Counts:
        """How many demands of each class the plan serves."""
        return totals(self._problem, self.plan).served

    @property
    def served_proven(self) -> bool:
        """Whether no plan serves more than the plan so far, the most urgent class first."""
        return self.served == self.served_at_most

    def offer(self, plan: Plan) -> None:
        """Keep a plan if it is better."""
        if plan is self.plan:
            return
        self.plan = min(self.plan, plan, key=self._rank)

    def serves_at_most(self, bound: Counts) -> None:
        """Record that no plan serves more than the bound, class by class."""
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
        missing = unserved(self._problem, self.served_at_most)
        bounds = (*missing, *(self._bounds[goal] for goal in self.goals))
        proof = staged(self._rank(self.plan), bounds)
        plan = self.plan if self.served_proven or any(self.served) else None
        return found(self._problem, plan, proof)

    def _rank(self, plan: Plan) -> Values:
        if plan is not self._last[0]:
            self._last = (plan, values_of(self._problem, plan))
        return self._last[1]

    def _values(self, plan: Plan) -> dict[Goal, int]:
        later = self._rank(plan)[-len(self.goals) :]
        return dict(zip(self.goals, later, strict=True))
