"""The step that both objectives are made of: settle the least sum of costs."""

from typing import Final, Literal, TypeAlias

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from wrung.planning.candidates.goals import Goal
from wrung.planning.candidates.search import Cap, Search
from wrung.planning.candidates.stock import NEVER, Ints
from wrung.planning.candidates.walk import Candidates, no_candidates
from wrung.planning.candidates.workbench import Workbench
from wrung.planning.deadline import Deadline
from wrung.planning.pricing.prices import Priced, dearest_plan, price, room
from wrung.planning.selection.choice import Choice, Selection
from wrung.planning.selection.narrowing import least_choice

End: TypeAlias = Literal["settled", "impossible", "open"]

_FOR_A_PLAN: Final = 0.4
"""Effort, see `Choice.solve`, to look for any plan where none could be proven."""
_FOR_A_QUICK_CHOICE: Final = 0.05
"""Effort that most choices need no more of; what needs more is narrowed down first."""
_SHARE_FOR_A_PLAN: Final = 0.4
"""Of the time left, where that is less."""


class Question(Struct, frozen=True, kw_only=True):
    """Plans for a workbench that serve so many demands, within caps, by a goal.

    Attributes:
        window: how far above its bound a least cost is likely to lie.
        grain: all costs are multiples of it.
        most_offered: candidates that one choice is made from; more are left to other engines.
        fewest: whether of plans with the least sum one with the fewest blocks is wanted.
    """

    bench: Workbench
    goal: Goal
    caps: tuple[Cap, ...]
    served: int
    window: int
    grain: int
    most_offered: int = 40_000
    fewest: bool = False


class Settled(Struct, frozen=True, kw_only=True):
    """The outcome of a stage.

    Attributes:
        end: ``settled`` the value is proven least; ``impossible`` no plan serves as many demands;
            ``open`` neither was shown.
        value: cost of the best plan seen, `NEVER` if none was.
        bound: no plan costs less.
        chosen: that plan; empty if none was seen.
        within: where settled, every candidate of every plan of that value.
        priced: the prices that proved it, if any did.
    """

    end: End
    value: int
    bound: int
    chosen: Candidates
    within: Candidates
    priced: Priced | None = None


def settle_sum(question: Question, pool: Candidates, deadline: Deadline) -> Settled:
    """Least sum of costs."""
    dearest = dearest_plan(question.bench, question.goal)
    slack = max(question.grain // 64, 1)
    priced = _priced(question, pool, dearest, slack=slack, deadline=deadline)
    if priced.bound > dearest:
        return _impossible()
    return _Closing(question, priced, dearest, deadline).run()


def _priced(
    question: Question, pool: Candidates, enough: int, *, slack: int, deadline: Deadline
) -> Priced:
    return price(
        question.bench,
        question.goal,
        caps=question.caps,
        served=question.served,
        pool=pool,
        window=question.window,
        slack=slack,
        enough=enough,
        deadline=deadline,
    )


def any_plan(question: Question, pool: Candidates, deadline: Deadline) -> Candidates | None:
    """A plan of the candidates that prices lead to, if one is found with little effort."""
    dearest = dearest_plan(question.bench, question.goal)
    priced = _priced(question, pool, dearest, slack=dearest // 1000, deadline=deadline)
    if priced.bound > dearest:
        return None
    choice = Choice(question.bench, priced.pool, question.served)
    until = deadline.share(_SHARE_FOR_A_PLAN)
    found = choice.solve("least_sum", priced.pool.errors, until, effort=_FOR_A_QUICK_CHOICE)
    return priced.pool.where(found.rows) if len(found.rows) else None


def _impossible() -> Settled:
    nothing = no_candidates()
    return Settled(end="impossible", value=NEVER, bound=NEVER, chosen=nothing, within=nothing)


class _Closing:
    """Closes the gap between the bound of the prices and the best plan.

    All candidates of plans up to a limit are enumerated and chosen from: either the best of them
    is the best of all, or no plan is within the limit. The limit begins at the bound; if no plan
    is within what the dearest would cost, there is none at all.
    """

    def __init__(
        self, question: Question, priced: Priced, dearest: int, deadline: Deadline
    ) -> None:
        self._question = question
        self._priced = priced
        self._dearest = dearest
        self._deadline = deadline
        self._search = Search(question.bench, question.goal, priced.prices, question.caps)
        # All costs are multiples of the grain, so the bound is at least the next of them.
        self._bound = -(-priced.bound // question.grain) * question.grain
        self._value = NEVER
        self._chosen = no_candidates()

    def run(self) -> Settled:
        """Until they meet, or the time is up, or there is too much to choose from."""
        whole_blocks = self._question.grain >= self._question.goal.blocks > 0
        # Whole blocks leave few values to try, errors far too many to go up one by one.
        step = 0 if whole_blocks else self._bound // 500
        while not self._deadline.passed:
            limit, offered = self._offered(step)
            if offered is None:
                break
            # A plan that meets the bound is best as it is; only ties need a choice.
            if self._value <= self._bound and not self._question.fewest:
                return self._settled(offered)
            selection = self._take(offered, limit)
            if selection.verdict not in ("best", "impossible"):
                break
            if selection.verdict == "impossible" and limit >= self._dearest:
                return _impossible()
            if selection.verdict == "best" and selection.value <= limit:
                return self._settled(offered)
            # Every plan up to the limit was on offer, so any plan costs more.
            self._bound = limit + self._question.grain
            step += 0 if whole_blocks else step // 2 + self._question.grain
        if self._value == NEVER:
            self._take_any(self._deadline.share(_SHARE_FOR_A_PLAN))
        return self._end("open", self._chosen)

    def _offered(self, step: int) -> tuple[int, Candidates | None]:
        """A limit and all candidates of plans within it: the best plan's cost, if they are few."""
        if self._value < NEVER:
            offered = self._within(self._value)
            if offered is not None or self._value <= self._bound:
                return self._value, offered
        limit = min(self._value, self._bound + step)
        return limit, self._within(limit)

    def _priced_low(self) -> Candidates:
        """Those seen while pricing, as many as a choice takes: a plan, if not the best."""
        pool = self._priced.pool
        order = np.argsort(self._search.costs(pool), kind="stable")
        return pool.where(order[: self._question.most_offered])

    def _take(self, offered: Candidates, limit: int) -> Selection:
        """The best choice; ``impossible`` where none costs as little as the limit."""
        costs = self._question.goal.costs(offered)
        selection = self._chosen_of(offered, costs // self._question.grain, limit)
        return self._known(offered, costs, selection)

    def _chosen_of(self, offered: Candidates, costs: Ints, limit: int) -> Selection:
        """Costs as multiples of the grain."""
        question = self._question
        choice = Choice(question.bench, offered, question.served)
        # Blocks only break ties: all of a plan weigh less than one grain.
        aims = costs * self._ties() + offered.counts if question.fewest else costs
        quick = choice.solve("least_sum", aims, self._deadline, effort=_FOR_A_QUICK_CHOICE)
        if quick.verdict in ("best", "impossible") or self._deadline.passed:
            return quick
        return least_choice(
            question.bench,
            offered,
            question.served,
            costs,
            least=self._bound // question.grain,
            most=limit // question.grain,
            ties=offered.counts if question.fewest else None,
            deadline=self._deadline,
        )

    def _take_any(self, deadline: Deadline) -> None:
        """Any plan of the candidates at hand."""
        offered = self._priced_low()
        costs = self._question.goal.costs(offered)
        choice = Choice(self._question.bench, offered, self._question.served)
        selection = choice.solve("least_sum", costs, deadline, effort=_FOR_A_PLAN)
        self._known(offered, costs, selection)

    def _known(self, offered: Candidates, costs: Ints, selection: Selection) -> Selection:
        value = int(costs[selection.rows].sum())
        if selection.verdict in ("best", "found") and value <= self._value:
            self._value, self._chosen = value, offered.where(selection.rows)
        return replace(selection, value=value)

    def _ties(self) -> int:
        """More than all the blocks of a plan."""
        question = self._question
        return len(question.bench.problem.pieces) * question.served + 1

    def _within(self, limit: int) -> Candidates | None:
        found = self._search.within(room(self._priced, self._question.served, limit))
        return None if found is None or len(found) > self._question.most_offered else found

    def _settled(self, offered: Candidates) -> Settled:
        self._bound = self._value
        most = room(self._priced, self._question.served, self._value)
        return self._end(
            "settled", offered.where(self._search.costs(offered) <= most[offered.demands])
        )

    def _end(self, end: End, within: Candidates) -> Settled:
        return Settled(
            end=end,
            value=self._value,
            bound=self._bound,
            chosen=self._chosen,
            within=within,
            priced=self._priced,
        )
