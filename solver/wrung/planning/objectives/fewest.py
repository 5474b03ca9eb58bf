"""Errors among plans with the fewest blocks, where these have few enough candidates to list."""

from typing import Literal

import numpy as np

from wrung.deadline import Deadline
from wrung.planning.candidates.goals import BLOCK, block_goal
from wrung.planning.candidates.search import Search
from wrung.planning.candidates.stock import NEVER, Stock
from wrung.planning.candidates.walk import Candidates, least_of_each, no_candidates
from wrung.planning.candidates.workbench import Prices, Workbench
from wrung.planning.objectives.closing import End, Settled
from wrung.planning.objectives.largest import Largest
from wrung.planning.objectives.serving import Served, own_caps
from wrung.planning.pricing.prices import Priced, room
from wrung.planning.selection.choice import Choice, Selection


class OfFewest:
    """Every candidate of every plan with the fewest blocks, told apart by error.

    Attributes:
        below: no plan has a largest error below this.
    """

    def __init__(self, exact: Workbench, nominal: Workbench, served: Served) -> None:
        priced = served.blocks.priced
        assert priced is not None  # noqa: S101 - a settled sum has its prices
        self._exact = exact
        self._tuning = exact.deadline.tuning
        self._count = exact.quota(served.count)
        self._blocks = served.blocks.value
        prices = _carry_over(nominal.stock, exact.stock, priced)
        goal = block_goal(exact.stock, exact.starts)
        found = Search(exact, goal, own_caps(exact), prices).within(
            room(priced, self._count, self._blocks)
        )
        few = found is not None and len(found) <= self._tuning.most_offered
        self._all = found if few else None
        self.below = 0

    def best(self) -> Candidates:
        """Some candidates of each demand, those with the least errors."""
        found = self._all or no_candidates()
        return least_of_each(found, found.errors, self._tuning.pool_each)

    def settle(self, deadline: Deadline) -> Largest | None:
        """The least largest error and the total, as far as few candidates can give them.

        The limit rises until a plan is found within it: all candidates within it were offered, so
        the best of them is the best of all.
        """
        every = self._all
        if every is None:
            return None
        limit, step = self._first_limit(every), 0
        while not deadline.passed:
            offered = every.where(every.errors <= limit)
            if len(offered) * self._count.total > self._tuning.many_offered:
                return None
            found = self._least_of(offered, deadline)
            if found != "impossible":
                return found
            self.below = limit + 1
            # In growing steps, so that few choices are needed; the least within a limit is exact
            # anyway. Where hardly more is on offer, a choice is hardly any different.
            step = max(2 * step, limit // self._tuning.parts_of_error, 1)
            above = np.sort(every.errors[every.errors > limit])
            if not len(above):
                return None
            more = len(offered) // self._tuning.part_more_offered
            limit = max(limit + step, int(above[min(more, len(above) - 1)]))
        return None

    def _least_of(
        self, offered: Candidates, deadline: Deadline
    ) -> Largest | Literal["impossible"] | None:
        """The best choice of these; None if that is not known."""
        effort = self._tuning.effort_for_a_quick_choice
        # Often the least total has the least largest error, too, which is then easy to prove.
        soon = self._choice(offered).solve("least_sum", offered.errors, deadline, effort=effort)
        if soon.verdict == "impossible":
            return "impossible"
        best = soon.verdict == "best"
        value = int(offered.errors[soon.rows].max(initial=0))
        fewer = offered.where(offered.errors < value) if best else offered
        if best and fewer.errors.max(initial=-1) < self.below:
            return self._with_total(value, offered, soon)
        largest = self._choice(fewer).solve("least_largest", fewer.errors, deadline)
        if largest.verdict == "impossible":
            return self._with_total(value, offered, soon) if best else "impossible"
        if largest.verdict != "best":
            return None
        few = fewer.where(fewer.errors <= largest.value)
        total = self._choice(few).solve("least_sum", few.errors, deadline)
        if not len(total.rows):
            chosen = fewer.where(largest.rows)
            return Largest(value=largest.value, bound=largest.value, chosen=chosen, total=None)
        return self._with_total(largest.value, few, total)

    @staticmethod
    def _with_total(value: int, few: Candidates, total: Selection) -> Largest:
        """With this largest error, proven least, and a total among plans of no larger one."""
        chosen = few.where(total.rows)
        end: End = "settled" if total.verdict == "best" else "open"
        settled = Settled(end=end, value=total.value, bound=total.bound, chosen=chosen)
        return Largest(value=value, bound=value, chosen=chosen, total=settled)

    def _choice(self, offered: Candidates) -> Choice:
        choice = Choice(self._exact, offered, self._count)
        choice.limit_sum(offered.counts, self._blocks // BLOCK)
        return choice

    def _first_limit(self, every: Candidates) -> int:
        """An error limit that this many stacks may keep, with some candidates for each."""
        each = np.full(len(self._exact.problem.demands), NEVER)
        np.minimum.at(each, every.demands, every.errors)
        # With this many demands served, at least one cannot have a smaller error than this.
        least = self._count.least_largest(each)
        some = np.sort(every.errors)[: self._tuning.offered_each_first * self._count.total]
        return max(least, int(some[-1]))


def _carry_over(nominal: Stock, exact: Stock, priced: Priced) -> Prices:
    """Prices of kinds by nominal length, for the kinds by error."""
    if nominal is exact:
        return priced.prices
    where = {piece: kind for kind, own in enumerate(nominal.pieces) for piece in own}
    kinds = [where[own[0]] for own in exact.pieces[: exact.bodies]]
    # Both have the steps in one order, and so the bodies.
    kinds += range(nominal.bodies, len(nominal.nominals))
    return Prices(by_clique=tuple(price[kinds] for price in priced.prices.by_clique))
