"""The last goal: of all plans that are as good, the one whose stacks change the fewest blocks."""

from msgspec import Struct

from wrung.deadline import Deadline
from wrung.planning.candidates.stock import Ints, by_error
from wrung.planning.candidates.workbench import set_up
from wrung.planning.finding import Plan, Totals, totals
from wrung.planning.parts import spread, subproblem
from wrung.planning.problem import Problem
from wrung.planning.selection.assignment import as_candidates, hand_out
from wrung.planning.succession.counting import Step, changed_blocks, successions
from wrung.planning.succession.handing import hand_on
from wrung.planning.succession.joint import ChangingChoice
from wrung.planning.succession.offers import Offers
from wrung.planning.succession.pool import BYTES_A_USE, Pool


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
    search = _Search(
        subproblem(problem, served),
        tuple(stack for stack in plan if stack is not None),
        deadline,
        best=best,
    )
    search.run()
    return Succeeding(
        plan=spread(search.plan, served, len(plan)), changes=search.changes, least=search.least
    )


class _Search:
    """From the quickest way to the surest, until the changes are proven least.

    Attributes:
        plan: the best so far.
        changes: its changes.
        least: what is proven of every plan that is as good.
    """

    def __init__(self, problem: Problem, plan: Plan, deadline: Deadline, *, best: bool) -> None:
        self.plan = plan
        self.changes = changed_blocks(problem, plan)
        self.least = 0
        self._problem = problem
        self._values = totals(problem, plan)
        self._deadline = deadline
        self._apart = apart(problem) if best else None

    def run(self) -> None:
        """Alike pieces first, then each sequence beside the rest, then all stacks at once."""
        bench = set_up(self._problem, by_error(self._problem), self._deadline)
        # Handing alike pieces on may be enough, and needs no search.
        self._offer(self.plan)
        if bench is None:
            return
        offers = Offers(bench, self.plan)
        # Of best plans, what stands by itself is as good in each: else another would be better.
        everyone = [tuple(range(len(self._problem.demands)))]
        everything = offers.of_plans(self._apart or everyone)
        found = offers.no_worse() if everything is None else everything
        if found is None:
            return
        uses = len(found) * len(bench.stock.nominals)
        if not self._deadline.memory.room(uses * BYTES_A_USE):
            return
        pool = Pool(bench, found)
        # First what makes the plan better: there may be no time for a proof as well.
        rows = self._one_by_one(pool, whole=everything is not None)
        # Shortest paths bound all plans only if every stack of such plans is in the pool.
        if everything is not None and self._apart is None:
            self.least = pool.least()
        if (
            everything is not None
            and len(everything) <= self._deadline.tuning.most_joint
            and not self._settled
        ):
            self._jointly(pool, rows)

    @property
    def _settled(self) -> bool:
        return self.changes <= self.least

    def _one_by_one(self, pool: Pool, *, whole: bool) -> Ints:
        """Each sequence in turn, the other stacks as they are."""
        rows = pool.rows_of(as_candidates(pool.bench, self.plan))
        for sequence in self._problem.sequences:
            rows, path = pool.beside(sequence, rows)
            # Where every step stands by itself, nothing else could make room for better ones.
            if whole and path is not None and self._apart is not None:
                self.least += path.changes
        self._offer(hand_out(pool.bench, pool.candidates.where(rows)))
        return rows

    def _jointly(self, pool: Pool, rows: Ints) -> None:
        choice = ChangingChoice(pool, self._values, successions(self._problem, self.plan))
        selection = choice.fewest_changes(
            self.least, rows, self._deadline, self._deadline.tuning.effort_for_changes
        )
        if selection.verdict in ("best", "found"):
            self.least = max(self.least, selection.bound)
            self._offer(hand_out(pool.bench, pool.candidates.where(selection.rows)))

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
