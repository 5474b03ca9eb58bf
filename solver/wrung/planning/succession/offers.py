"""Every stack that could stand in a plan that is no worse than the one in hand."""

from collections.abc import Sequence

import numpy as np

from wrung.planning.assignment import as_candidates
from wrung.planning.candidates.goals import BLOCK, block_goal, error_goal, first_window
from wrung.planning.candidates.search import Cap, Search
from wrung.planning.candidates.stock import Ints
from wrung.planning.candidates.walk import Candidates
from wrung.planning.candidates.workbench import Workbench
from wrung.planning.finding import Plan


class Offers:
    """Stacks of a workbench by number of blocks and error.

    Args:
        bench: the demands that are served, with the kinds by error.
        plan: the plan in hand.
    """

    def __init__(self, bench: Workbench, plan: Plan) -> None:
        self._bench, self._plan = bench, as_candidates(bench, plan)
        stock, starts, demands = bench.stock, bench.starts, bench.problem.demands
        self._goals = (block_goal(stock, starts), error_goal(stock, starts, signs=True))
        self._own = (self._plan.counts * BLOCK, self._plan.errors)
        # No stack may err more than the largest error of the plan, however much there is to spare.
        self._most = (
            np.array([demand.most for demand in demands], np.int64) * BLOCK,
            np.minimum(bench.most_errors, self._plan.errors.max(initial=0)),
        )

    def of_plans(self, groups: Sequence[Sequence[int]]) -> Candidates | None:
        """Those of any plan that is no worse in any of these groups; None if there are too many.

        Each group of demands has no more blocks than here, no larger errors in sum, and no stack
        has an error larger than the largest here.
        A stack may cost more than the least for its demand only by what its group has to spare.
        """
        most = [*self._most]
        # What the objective keeps tight comes first, as it leaves less room for the other.
        fewest = self._bench.problem.objective == "fewest_blocks"
        for place in (0, 1) if fewest else (1, 0):
            most[place] = self._spare(place, most, groups)
        return self._within(most)

    def no_worse(self) -> Candidates | None:
        """Those with no more blocks and no larger error than the stack that the demand has."""
        return self._within(self._own)

    def _spare(self, place: int, most: Sequence[Ints], groups: Sequence[Sequence[int]]) -> Ints:
        """By demand, the most it may cost: its least cost plus all that its group has to spare."""
        own, limit = self._own[place], most[place]
        search = Search(self._bench, self._goals[place], self._caps(most))
        window = (0, first_window(self._bench.stock))[place]
        least = np.minimum(search.cheapest(window, known=self._plan).least, limit)
        spare = limit.copy()
        for group in map(list, groups):
            over = max(int(own[group].sum() - least[group].sum()), 0)
            spare[group] = np.minimum(limit[group], least[group] + over)
        return spare

    def _within(self, most: Sequence[Ints]) -> Candidates | None:
        found = Search(self._bench, self._goals[1], self._caps(most)).within(most[1])
        too_many = found is not None and len(found) > self._bench.deadline.tuning.most_joint
        return None if too_many else found

    def _caps(self, most: Sequence[Ints]) -> tuple[Cap, ...]:
        return tuple(Cap(goal=goal, most=own) for goal, own in zip(self._goals, most, strict=True))
