"""The preferences, one after another: of the plans that are as good, the one that is preferred."""

from msgspec import Struct

from wrung.deadline import Deadline
from wrung.planning.candidates.stock import by_error
from wrung.planning.candidates.walk import Candidates
from wrung.planning.candidates.workbench import set_up
from wrung.planning.finding import Plan, totals
from wrung.planning.parts import spread, subproblem
from wrung.planning.problem import Problem
from wrung.planning.selection.assignment import stacks_as_candidates
from wrung.planning.succession.as_good import AsGood
from wrung.planning.succession.by_pieces import BlockChoice, PieceChoice
from wrung.planning.succession.costs import cost_of
from wrung.planning.succession.counting import changed_blocks, successions
from wrung.planning.succession.least_changes import apart
from wrung.planning.succession.offers import Offers
from wrung.preferences import PreferenceResult


class Preferred(Struct, frozen=True, kw_only=True):
    """A plan that serves the same demands as the one before, no worse, and its preferences."""

    plan: Plan
    results: tuple[PreferenceResult, ...]


def preferred(problem: Problem, plan: Plan, deadline: Deadline, *, best: bool) -> Preferred:
    """The plan that is preferred, as far as it is found in time.

    ``best`` says that no plan is better by the objective (proven).
    """
    served = [demand for demand, stack in enumerate(plan) if stack is not None]
    part, stacks = subproblem(problem, served), tuple(s for s in plan if s is not None)
    search = _Search(part, stacks, deadline)
    if served:
        search.run(best=best)
    return Preferred(plan=spread(search.plan, served, len(plan)), results=search.results)


class _Search:
    """First the pieces of the stacks that there are, then all stacks of plans as good."""

    def __init__(self, problem: Problem, plan: Plan, deadline: Deadline) -> None:
        self.plan = plan
        self._problem, self._deadline = problem, deadline
        self._costs = [cost_of(problem, each) for each in problem.preferences]
        self._bounds = [0 for _ in self._costs]
        # A piece that may be used twice is told apart from all others, to see how often it is.
        once = len(problem.cliques) == 1
        costs = [tuple(cost.pieces[k] for cost in self._costs) for k in range(len(problem.pieces))]
        number = {each: place for place, each in enumerate(dict.fromkeys(costs))}
        self._marks = [number[each] if once else k for k, each in enumerate(costs)]

    @property
    def results(self) -> tuple[PreferenceResult, ...]:
        """For each preference, in order."""
        each = zip(self._problem.preferences, self._costs, self._bounds, strict=True)
        return tuple(
            PreferenceResult(
                goal=asked.goal, set=asked.set, value=cost.of(self.plan), lower_bound=bound
            )
            for asked, cost, bound in each
        )

    def run(self, *, best: bool) -> None:
        """Goal by goal, each with those before kept."""
        stock = by_error(self._problem)
        self._among(stacks_as_candidates(self._problem, stock, self.plan), whole=False)
        bench = set_up(self._problem, stock, self._deadline)
        if bench is None:
            choice = BlockChoice(self._problem, self.plan, self._marks, self._deadline)
            self._settle(choice, whole=True)
            return
        offers = Offers(bench, self.plan)
        everyone = (tuple(range(len(self.plan))),)
        groups = apart(self._problem) if best else None
        everything = offers.of_plans(groups or everyone)
        found = offers.no_worse() if everything is None else everything
        if found is not None and len(found) <= self._deadline.tuning.most_joint:
            self._among(found, whole=everything is not None)

    def _among(self, candidates: Candidates, *, whole: bool) -> None:
        stock, values = by_error(self._problem).pieces, totals(self._problem, self.plan)
        choice = PieceChoice(
            self._problem, candidates, stock, values, marks=self._marks, deadline=self._deadline
        )
        self._settle(choice, whole=whole)

    def _settle(self, choice: PieceChoice | BlockChoice, *, whole: bool) -> None:
        """``whole`` says that the choice has all plans that are as good."""
        counted = choice.counted
        if counted is None or not self._keep_changes(counted):
            return
        for place, cost in enumerate(self._costs):
            value, total = cost.of(self.plan), counted.cost(cost)
            if value > self._bounds[place]:
                found = choice.least(total, self.plan)
                if found.plan is None or found.bound is None:
                    return
                if whole:
                    self._bounds[place] = max(found.bound, 0)
                self.plan, value = found.plan, cost.of(found.plan)
            counted.model.add(total <= value)

    def _keep_changes(self, counted: AsGood) -> bool:
        """False if the time is up before."""
        pairs = successions(self._problem, self.plan)
        changes = counted.changes(pairs, self._deadline)
        if changes is not None:
            counted.model.add(changes <= changed_blocks(self._problem, self.plan))
        return changes is not None
