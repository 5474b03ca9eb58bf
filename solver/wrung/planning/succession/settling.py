"""The goals after the objective, in order, each among the plans that are as good before it.

First come the blocks that change between stacks in turn, then the preferences in their order.
"""

from msgspec import Struct

from wrung.answers import BlockChanges
from wrung.deadline import Deadline
from wrung.planning.assignment import stacks_as_candidates
from wrung.planning.candidates.stock import by_error
from wrung.planning.candidates.walk import Candidates
from wrung.planning.candidates.workbench import set_up
from wrung.planning.finding import Plan
from wrung.planning.independent import components
from wrung.planning.parts import spread, subproblem
from wrung.planning.problem import Problem
from wrung.planning.succession.as_good import as_good
from wrung.planning.succession.counting import Changes, Cost, cost_of, successions
from wrung.planning.succession.offers import Offers
from wrung.preferences import PreferenceResult


class LastGoals(Struct, frozen=True, kw_only=True):
    """A plan that serves the same demands as the one before, no worse by any objective value.

    Attributes:
        plan: the best found.
        changes: of it; None where no stacks of lengths follow one another.
        preferences: what it comes to by each preference in order, and what is proven of that.
    """

    plan: Plan
    changes: BlockChanges | None = None
    preferences: tuple[PreferenceResult, ...] = ()


def settled(problem: Problem, plan: Plan, deadline: Deadline, *, best: bool) -> LastGoals:
    """The plan that is best by the goals after the objective, as far as it is found in time.

    ``best`` says that no plan is better by the objective (proven).
    """
    if not (problem.preferences or problem.sequences):
        return LastGoals(plan=plan)
    served = [demand for demand, stack in enumerate(plan) if stack is not None]
    part, stacks = subproblem(problem, served), tuple(s for s in plan if s is not None)
    search = _Settling(part, stacks, deadline)
    if served and search.goals:
        search.run(best=best)
    values = [goal.of(search.plan) for goal in search.goals]
    found = list(zip(values, search.bounds, strict=True))
    changes = found.pop(0) if search.pairs else None
    each = zip(problem.preferences, found, strict=True)
    return LastGoals(
        plan=spread(search.plan, served, len(plan)),
        changes=changes and BlockChanges(block_changes=changes[0], lower_bound=changes[1]),
        preferences=tuple(
            PreferenceResult(goal=asked.goal, set=asked.set, value=value, lower_bound=bound)
            for asked, (value, bound) in each
        ),
    )


class _Settling:
    """First the pieces of the stacks that there are, then all stacks of plans as good.

    Attributes:
        plan: the best so far.
        pairs: steps that follow one another.
        goals: in order.
        bounds: no plan that is as good by all goals before has less of one.
    """

    def __init__(self, problem: Problem, plan: Plan, deadline: Deadline) -> None:
        self.plan = plan
        self._problem, self._deadline = problem, deadline
        # Angle blocks turned over are other pieces, and what changes with them is not counted.
        self.pairs = () if problem.signed else successions(problem, plan)
        costs = [cost_of(problem, each) for each in problem.preferences]
        changes = (Changes(problem=problem, pairs=self.pairs),) if self.pairs else ()
        self.goals: tuple[Changes | Cost, ...] = (*changes, *costs)
        self.bounds = [0 for _ in self.goals]
        # A piece that may be used twice is told apart from all others, to see how often it is.
        once = bool(problem.at_one_time.all())
        own = [tuple(cost.pieces[k] for cost in costs) for k in range(len(problem.pieces))]
        number = {each: place for place, each in enumerate(dict.fromkeys(own))}
        self._marks = [number[each] if once else k for k, each in enumerate(own)]

    def run(self, *, best: bool) -> None:
        """Goal by goal, each with those before kept."""
        stock = by_error(self._problem)
        own = stacks_as_candidates(self._problem, stock, self.plan)
        self._settle(own, whole=False)
        bench = set_up(self._problem, stock, self._deadline)
        if bench is None:
            self._settle(None, whole=True)
            return
        offers = Offers(bench, self.plan)
        # Of best plans, what stands by itself is as good in each: else another would be better.
        groups = components(self._problem) if best else (range(len(self.plan)),)
        everything = offers.of_plans(groups)
        found = offers.no_worse() if everything is None else everything
        if found is not None and self._deadline.memory.room(
            len(found) * len(stock.pieces) * self._deadline.tuning.bytes_a_joint_use
        ):
            self._settle(found, whole=everything is not None)

    def _settle(self, candidates: Candidates | None, *, whole: bool) -> None:
        """Of these, or of single blocks; ``whole`` if these are all plans that are as good."""
        plans = as_good(self._problem, self.plan, self._marks, self._deadline, candidates)
        if plans is None:
            return
        for place, goal in enumerate(self.goals):
            total = plans.total(goal)
            if total is None:
                return
            if goal.of(self.plan) > self.bounds[place]:
                found = plans.least(total, self.plan)
                if found.plan is None or found.bound is None:
                    return
                if whole:
                    self.bounds[place] = max(found.bound, 0)
                self.plan = min(self.plan, found.plan, key=goal.of)
            plans.choices.model.add(total <= goal.of(self.plan))
