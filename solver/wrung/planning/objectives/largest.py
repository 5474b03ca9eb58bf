"""The least largest error, by halving: can as many demands be served with no error above this?"""

from collections.abc import Callable
from typing import Final, Literal, TypeAlias

import numpy as np
from msgspec import Struct

from wrung.planning.candidates.goals import Goal, Side, excess_goal
from wrung.planning.candidates.stock import NEVER, Stock
from wrung.planning.candidates.walk import Candidates, join_candidates
from wrung.planning.candidates.workbench import FREE
from wrung.planning.deadline import Deadline
from wrung.planning.objectives.serving import own_caps
from wrung.planning.objectives.stages import Question, settle_sum
from wrung.planning.pricing.prices import close_to, price
from wrung.planning.selection.choice import Choice

_NEAR: Final = 0.02
"""Any plan within the limit answers the question; one with small errors leads to a lower limit."""

Fit: TypeAlias = Literal["fits", "impossible", "open"]


class Largest(Struct, frozen=True, kw_only=True):
    """The least largest error of plans.

    Attributes:
        value: that of the best plan seen, quanta; `NEVER` if none was.
        bound: no plan's is less; equal to ``value`` where settled.
        chosen: that plan.
        pool: all candidates seen.
    """

    value: int
    bound: int
    chosen: Candidates
    pool: Candidates


class Halving:
    """Searches between what is proven impossible and what was found.

    Args:
        question: asks for plans with no error above a limit.
        pool: candidates to begin with.
        least: no plan's largest error is less.
        grain: all errors are multiples of it.
    """

    def __init__(
        self, question: Callable[[int], Question], pool: Candidates, least: int, grain: int
    ) -> None:
        self._question = question
        self._pool = pool
        self._grain = grain
        self._low = least
        self._value = NEVER
        # No error is negative: no rows, with the columns of the pool.
        self._chosen = pool.where(pool.errors < 0)

    def begin(self, deadline: Deadline) -> bool:
        """Price without a limit, for a first plan; whether one was found."""
        return self._find(NEVER, self._question(NEVER).goal, deadline) == "fits"

    def know(self, plan: Candidates) -> None:
        """Take in a plan that serves as many."""
        self._pool = join_candidates([self._pool, plan])
        self._take(plan)

    def _take(self, plan: Candidates) -> None:
        largest = int(plan.errors.max(initial=0))
        if largest < self._value:
            self._value, self._chosen = largest, plan

    def run(self, deadline: Deadline) -> Largest:
        """Until nothing is left between, or the time is up."""
        limit, turn = self._low, 0
        while self._low < self._value < NEVER and not deadline.passed:
            if self._try(limit, deadline) == "open":
                break
            # The value found is often the least already: every other time just below it.
            steps, turn = (self._value - self._low) // self._grain, turn + 1
            limit = self._low + max(steps - 1, 0) // (1 + turn % 2) * self._grain
        return Largest(
            value=self._value,
            bound=min(self._low, self._value),
            chosen=self._chosen,
            pool=self._pool,
        )

    def _try(self, limit: int, deadline: Deadline) -> Fit:
        question = self._question(limit)
        fit = self._by_programme(question, limit, deadline)
        if fit == "open":
            fit = self._by_closing(question, limit, deadline)
        if fit == "impossible":
            # Errors are multiples of the grain, so none lies between.
            self._low = limit + self._grain
        return fit

    def _by_programme(self, question: Question, limit: int, deadline: Deadline) -> Fit:
        """The linear programme says no, or its candidates hold a plan.

        What is above the limit is not forbidden but costs so much that one grain of it is dearer
        than any plan without: prices then stay of the size of errors, and searches small.
        """
        excess = question.served * limit // self._grain + 1
        # Such costs would outgrow the tables' whole numbers; closing needs no excess.
        if (1 + excess) * _dearest_step(question) > FREE:
            return "open"
        return self._find(limit, excess_goal(question.goal, limit, excess), deadline)

    def _find(self, limit: int, goal: Goal, deadline: Deadline) -> Fit:
        question = self._question(limit)
        # A plan within the limit costs no more than the limit for each of its stacks.
        dearest = question.served * limit if limit < NEVER else NEVER
        scale = question.served * self._low
        priced = price(
            question.bench,
            goal,
            caps=own_caps(question.bench),
            served=question.served,
            pool=self._pool,
            window=question.window,
            slack=scale // 50,
            enough=dearest,
            deadline=deadline,
            blocks=question.blocks,
        )
        # It holds those before, too, each once.
        self._pool = priced.pool
        if priced.bound > dearest:
            return "impossible"
        # A choice among few is quick; more are offered only where these do not do.
        for gap in (scale // 200, scale // 20, NEVER):
            close = close_to(question.bench, goal, priced, gap)
            if self._choose(close.where(close.errors <= limit), question, deadline):
                return "fits"
        return "open"

    def _choose(self, offered: Candidates, question: Question, deadline: Deadline) -> bool:
        choice = Choice(question.bench, offered, question.served)
        if question.blocks is not None:
            choice.limit_sum(offered.counts, question.blocks)
        selection = choice.solve("least_sum", offered.errors, deadline, near=_NEAR)
        if selection.verdict not in ("best", "found"):
            return False
        self._take(offered.where(selection.rows))
        return True

    def _by_closing(self, question: Question, limit: int, deadline: Deadline) -> Fit:
        settled = settle_sum(question, self._up_to(limit), deadline)
        if settled.end == "impossible":
            return "impossible"
        if not len(settled.chosen):
            return "open"
        self._take(settled.chosen)
        return "fits"

    def _up_to(self, limit: int) -> Candidates:
        return self._pool.where(self._pool.errors <= limit)


def _dearest_step(question: Question) -> int:
    """Above the sum of all pieces and any offset: what must not outgrow whole numbers."""
    stock, starts = question.bench.stock, question.bench.starts
    if stock.squares:
        return max(_sum_of_sizes(side, stock) for side in question.goal.sides)
    pieces = (np.abs(stock.burdens) + np.abs(stock.deviations)) * stock.capacities
    begun = np.abs(starts.burdens) + np.abs(starts.offsets)
    return int(pieces.sum()) + int(begun.max(initial=0))


def _sum_of_sizes(side: Side, stock: Stock) -> int:
    pieces = int((np.abs(side.pieces) * stock.capacities).sum())
    return pieces + int(np.abs(side.starts).max(initial=0))
