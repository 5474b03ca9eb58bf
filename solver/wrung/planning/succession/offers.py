"""Every stack that could stand in a plan that is no worse than the one in hand."""

from collections.abc import Sequence

import numpy as np

from wrung.planning.assignment import as_candidates
from wrung.planning.candidates.goals import (
    BLOCK,
    block_goal,
    error_goal,
    first_window,
)
from wrung.planning.candidates.search import Cap, Search
from wrung.planning.candidates.stock import NEVER, Ints
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
        self._bench = bench
        self._own = as_candidates(bench, plan)
        self._blocks = block_goal(bench.stock, bench.starts)
        self._errors = error_goal(bench.stock, bench.starts, signs=True)
        demands = bench.problem.demands
        self._most_blocks = np.array([demand.most for demand in demands], np.int64) * BLOCK
        self._most_error = np.array([_most_error(demand.most_error) for demand in demands])

    def of_plans(self, groups: Sequence[Sequence[int]]) -> Candidates | None:
        """Those of any plan that is no worse in any of these groups; None if there are too many.

        Each group of demands has no more blocks than here, no larger errors in sum, and no stack
        has an error larger than the largest here.
        A stack may cost more than the least for its demand only by what its group has to spare.
        """
        # No stack may err more than the largest error of the plan, however much there is to spare.
        most = [
            self._most_blocks,
            np.minimum(self._most_error, self._own.errors.max(initial=0)),
        ]
        # What the objective keeps tight comes first, as it leaves less room for the other.
        fewest = self._bench.problem.objective == "fewest_blocks"
        for place in (0, 1) if fewest else (1, 0):
            most[place] = self._spare(place, most, groups)
        return self._within(*most)

    def no_worse(self) -> Candidates | None:
        """Those with no more blocks and no larger error than the stack that the demand has."""
        return self._within(self._own.counts * BLOCK, self._own.errors)

    def _spare(self, place: int, most: Sequence[Ints], groups: Sequence[Sequence[int]]) -> Ints:
        """By demand, the most it may cost: its least cost plus all that its group has to spare."""
        goal, limit = (self._blocks, self._errors)[place], most[place]
        own = (self._own.counts * BLOCK, self._own.errors)[place]
        search = Search(self._bench, goal, None, self._caps(*most))
        window = (0, first_window(self._bench.stock))[place]
        least = np.minimum(search.cheapest(window, known=self._own).least, limit)
        spare = limit.copy()
        for group in map(list, groups):
            over = max(int(own[group].sum() - least[group].sum()), 0)
            spare[group] = np.minimum(limit[group], least[group] + over)
        return spare

    def _within(self, blocks: Ints, errors: Ints) -> Candidates | None:
        bench = self._bench
        search = Search(bench, self._errors, None, self._caps(blocks, errors))
        found = search.within(errors)
        return None if found is None or len(found) > bench.deadline.tuning.most_joint else found

    def _caps(self, blocks: Ints, errors: Ints) -> tuple[Cap, Cap]:
        return (Cap(goal=self._blocks, most=blocks), Cap(goal=self._errors, most=errors))


def _most_error(limit: int | None) -> int:
    return NEVER // 4 if limit is None else min(limit, NEVER // 4)
