"""Where tolerances have more lengths than are searched: the starts that cost least, as it seems.

What a start costs at least is read from tables, which also rule out those that have no stack
within the limits on blocks and errors. A plan of those that are kept is a plan; that it is the best
is only known if it costs so little that no other start can be in a better one.
"""

import numpy as np

from wrung.deadline import Deadline
from wrung.planning.candidates.goals import BLOCK, Goal, block_goal, error_goal
from wrung.planning.candidates.layout import Layout
from wrung.planning.candidates.starts import Starts, most_starts, some_starts
from wrung.planning.candidates.stock import NEVER, Ints, Stock, join_rows, ranks
from wrung.planning.candidates.supply import Tables
from wrung.planning.problem import Problem


def cheapest_starts(
    problem: Problem, stock: Stock, layout: Layout, deadline: Deadline
) -> "CheapestStarts | None":
    """The starts that cost least; None where tables would be too large, or the time is up."""
    reach = layout.reach(max(demand.high for demand in problem.demands))
    hurried = deadline.remaining < deadline.tuning.hurried_seconds
    if hurried or layout.cells(reach) > deadline.tuning.most_cells:
        return None
    most = most_starts(layout, deadline.tuning)
    found = CheapestStarts(problem, stock, layout, Tables(layout, reach, deadline), most)
    until = deadline.share(deadline.tuning.share_for_starts)
    for part in some_starts(problem, stock, layout, until):
        if part is None or until.passed:
            return None
        found.add(part)
    return found


class CheapestStarts:
    """Takes in starts and keeps no more than ``most``, of each demand at least a few.

    Plans are compared by all their blocks or by their largest error, as the objective says.
    """

    def __init__(
        self, problem: Problem, stock: Stock, layout: Layout, tables: Tables, most: int
    ) -> None:
        self._problem, self._stock = problem, stock
        self._kinds, self._tables, self._most = layout.kinds, tables, most
        self._largest = problem.objective == "least_error"
        own = problem.demands
        self._most_blocks = np.array([demand.most for demand in own])
        errors = [NEVER if d.most_error is None else d.most_error for d in own]
        self._most_errors = np.array(errors, np.int64)
        self._least = np.full(len(own), NEVER)
        self._few = max(most // (2 * len(own)), 1)
        self._starts: list[Starts] = []
        self._own: list[Ints] = []
        self._within = NEVER

    def add(self, starts: Starts) -> None:
        """Take in some more."""
        costs = self._costs(starts)
        np.minimum.at(self._least, starts.demands, costs)
        near = costs - self._base()[starts.demands] <= self._within + 1
        # Those of another demand may have filled all the room before.
        near |= ranks(starts.demands, costs) < self._few
        rows = np.flatnonzero(near & (costs < NEVER))
        self._starts.append(starts.where(rows))
        self._own.append(costs[rows])
        if sum(map(len, self._own)) > 2 * self._most:
            self._keep()

    def kept(self) -> Starts:
        """Those that cost least."""
        self._keep()
        return self._starts[0]

    @property
    def some(self) -> bool:
        """Whether any were left out that a stack within its limits could begin with."""
        return self._within < NEVER

    @property
    def buildable(self) -> Ints:
        """The demands that some start can be completed for."""
        return np.flatnonzero(self._least < NEVER)

    @property
    def least(self) -> int:
        """No plan that serves all demands that can be built costs less."""
        least = self._least[self.buildable]
        return int(least.max(initial=0) if self._largest else least.sum())

    @property
    def complete(self) -> int:
        """Plans of all these demands that cost no more consist of starts that are kept."""
        return self._within if self._largest else self.least + self._within

    def _costs(self, starts: Starts) -> Ints:
        """At least what stacks cost that begin like this; `NEVER` where none is within limits."""
        blocks = errors = np.zeros_like(starts.demands)
        if not self._largest or self._most_blocks.min() < len(self._problem.pieces):
            blocks = self._least_by(block_goal(self._stock, starts), starts) // BLOCK
        if self._largest or self._problem.limits_errors:
            errors = self._least_by(error_goal(self._stock, starts, signs=True), starts)
        own = errors if self._largest else blocks * BLOCK
        within = blocks <= self._most_blocks[starts.demands]
        within &= errors <= self._most_errors[starts.demands]
        return np.where(within, own, NEVER)

    def _least_by(self, goal: Goal, starts: Starts) -> Ints:
        least = np.zeros_like(starts.demands)
        for side in goal.sides:
            table = self._tables.of(side.pieces[None, self._kinds], lasting=True)
            below = table.least(starts.steps, np.zeros_like(least))
            np.maximum(least, np.where(below < NEVER, side.starts + below, NEVER), out=least)
        return least

    def _keep(self) -> None:
        starts, own = join_rows(self._starts), np.concatenate(self._own)
        beyond = own - self._base()[starts.demands]
        if len(own) > self._most:
            # Of equal ones, those nearest to the target first, and as many of each demand.
            place = ranks(starts.demands, np.abs(starts.offsets), own)
            order = np.lexsort((place, beyond, place >= self._few))
            rows, left = np.sort(order[: self._most]), order[self._most :]
            self._within = min(self._within, int(beyond[left].min()) - 1)
            starts, own = starts.where(rows), own[rows]
        self._starts, self._own = [starts], [own]

    def _base(self) -> Ints:
        """By demand, what a plan that serves all of them pays for it anyway."""
        return np.zeros_like(self._least) if self._largest else self._least
