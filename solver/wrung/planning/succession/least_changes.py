"""The last goal: of all plans that are as good, the one whose stacks change the fewest blocks."""

from typing import Final

from msgspec import Struct

from wrung.deadline import Deadline
from wrung.planning.candidates.stock import by_error
from wrung.planning.candidates.workbench import set_up
from wrung.planning.finding import Plan, Totals, totals
from wrung.planning.parts import spread, subproblem
from wrung.planning.problem import Problem
from wrung.planning.selection.assignment import as_candidates, hand_out
from wrung.planning.succession.counting import Step, changed_blocks, successions
from wrung.planning.succession.handing import hand_on
from wrung.planning.succession.joint import ChangingChoice
from wrung.planning.succession.offers import Offers

_BYTES_A_USE: Final = 16
"""For each candidate and kind: counts, and comparing them."""


class Succeeding(Struct, frozen=True, kw_only=True):
    """A plan, the blocks that change between its stacks, and what is proven of their number.

    Attributes:
        plan: it serves the same demands as the plan before, no worse by any objective value.
        changes: blocks that come off or go on.
        least: no such plan changes fewer.
    """

    plan: Plan
    changes: int
    least: int


def least_changes(
    problem: Problem, plan: Plan, deadline: Deadline, *, best: bool = False
) -> Succeeding | None:
    """The plan with the fewest changes found; None where no stacks of lengths follow one another.

    ``best`` says that no plan is better by the objective (proven).
    """
    # Angle blocks turned over are other pieces, and what changes with them is not counted.
    if problem.signed or not successions(problem, plan):
        return None
    served = [demand for demand, stack in enumerate(plan) if stack is not None]
    stacks = tuple(stack for stack in plan if stack is not None)
    search = _Search(subproblem(problem, served), stacks, deadline)
    search.run(best=best)
    return Succeeding(
        plan=spread(search.plan, served, len(plan)), changes=search.changes, least=search.least
    )


class _Search:
    """From the quickest way to the surest.

    Attributes:
        plan: the best so far.
        changes: its changes.
        least: what is proven of every plan that is as good.
    """

    def __init__(self, problem: Problem, plan: Plan, deadline: Deadline) -> None:
        self.plan = plan
        self.changes = changed_blocks(problem, plan)
        self.least = 0
        self._problem = problem
        self._values = totals(problem, plan)
        self._deadline = deadline

    def run(self, *, best: bool) -> None:
        """Alike pieces first, which may be enough, then all stacks at once."""
        self._offer(self.plan)
        bench = set_up(self._problem, by_error(self._problem), self._deadline)
        if bench is None:
            return
        offers = Offers(bench, self.plan)
        everyone = (tuple(range(len(self.plan))),)
        # Of best plans, what stands by itself is as good in each: else another would be better.
        everything = offers.of_plans(apart(self._problem) or everyone if best else everyone)
        found = offers.no_worse() if everything is None else everything
        if found is None or not self._deadline.memory.room(
            len(found) * len(bench.stock.nominals) * _BYTES_A_USE
        ):
            return
        choice = ChangingChoice(bench, found, self._values, successions(self._problem, self.plan))
        own = as_candidates(bench, self.plan)
        selection = choice.fewest_changes(own, self._deadline.tuning.effort_for_changes)
        if selection.verdict in ("best", "found"):
            self._offer(hand_out(bench, found.where(selection.rows)))
            # A bound on all plans only if every stack of such plans was to choose from.
            self.least = 0 if everything is None else selection.bound

    def _offer(self, plan: Plan) -> None:
        """Take a plan, its pieces handed on, if it changes fewer blocks and is no worse."""
        plan = hand_on(self._problem, plan)
        changes = changed_blocks(self._problem, plan)
        if changes < self.changes and _no_worse(totals(self._problem, plan), self._values):
            self.plan, self.changes = plan, changes


def apart(problem: Problem) -> tuple[Step, ...] | None:
    """The steps, and the stacks beside them, if no two of these are ever needed at one time."""
    steps = [step for sequence in problem.sequences for step in sequence]
    following = {demand for step in steps for demand in step}
    others = [(demand,) for demand in range(len(problem.demands)) if demand not in following]
    found = (*steps, *others)
    alone = all(any(set(clique) <= set(step) for step in found) for clique in problem.cliques)
    return found if alone else None


def _no_worse(one: Totals, other: Totals) -> bool:
    return (
        one.served == other.served
        and one.blocks <= other.blocks
        and one.largest_error <= other.largest_error
        and one.total_error <= other.total_error
    )
