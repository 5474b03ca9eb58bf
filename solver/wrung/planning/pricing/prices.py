"""Prices for pieces that several demands want, and the lower bound that they prove.

For any prices, no plan that serves so many demands of each class can cost less than the sum of as
many smallest priced costs of that class, less what all pieces cost (Lagrangian relaxation of "no
piece twice"). Good prices are the duals of a linear programme over the candidates seen so far; the
table then finds the candidates that it lacks (column generation; Desrosiers and Lübbecke, "A primer
in column generation", 2005).
"""

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from wrung.deadline import Deadline
from wrung.planning.candidates.goals import Goal
from wrung.planning.candidates.quota import Quota
from wrung.planning.candidates.search import Cheapest, Search
from wrung.planning.candidates.stock import NEVER, Ints
from wrung.planning.candidates.walk import Candidates
from wrung.planning.candidates.workbench import Prices, Workbench
from wrung.planning.pricing.master import Master
from wrung.planning.pricing.question import Question


class Priced(Struct, frozen=True, kw_only=True):
    """What the prices prove.

    Attributes:
        prices: by clique and kind.
        least: least priced cost by demand.
        bound: no plan that serves as many costs less; `NEVER` where no plan serves as many.
        master: the programme over the candidates seen.
        plan: one of these that the programme came to, if that had no stacks in parts.
    """

    prices: Prices
    least: Ints
    bound: int
    master: Master
    plan: Candidates | None = None

    @property
    def pool(self) -> Candidates:
        """The candidates seen."""
        return self.master.pool


def price(  # noqa: PLR0913 - the parts of one question
    question: Question,
    pool: Candidates,
    *,
    slack: int,
    enough: int,
    deadline: Deadline,
    rounds: int | None = None,
) -> Priced:
    """Raise the bound until it is within ``slack`` of the programme, or above ``enough``.

    It begins with the candidates of the pool, and ends after so many rounds.
    """
    most = deadline.tuning.most_rounds if rounds is None else rounds
    return _Pricing(question, pool, enough).run(slack, most, deadline)


class _Pricing:
    """Rounds of a linear programme over the candidates seen, and of a search for others."""

    def __init__(self, question: Question, pool: Candidates, enough: int) -> None:
        self._question = question
        self._bench = question.bench
        self._enough = enough
        self._idle = 0
        self._master = Master(question, pool)
        least = np.zeros(len(self._bench.problem.demands), np.int64)
        self._best = Priced(
            prices=self._bench.no_prices(), least=least, bound=0, master=self._master
        )

    def run(self, slack: int, rounds: int, deadline: Deadline) -> Priced:
        """Repeat until there is no more progress."""
        plan, last = None, -1
        for _ in range(rounds):
            solved = self._master.solve(deadline)
            if solved is None:
                break
            value, prices = solved
            self._idle, last = self._idle + 1 if value == last else 0, value
            more, bound = self._priced_out(prices)
            if bound > self._enough or deadline.passed:
                break
            # While demands are not served, the cost of that limits the prices.
            if value - bound <= slack or not more:
                if not self._master.programme.raise_artificials():
                    plan = self._master.plan
                    break
                self._idle = 0
        return replace(self._best, plan=plan)

    def _priced_out(self, prices: Prices) -> tuple[bool, int]:
        """Offer candidates that are cheap at these prices: if more may help, and what is proven."""
        tuning = self._bench.deadline.tuning
        # What was too large at other prices may be small enough at these.
        search = self._question.search(prices)
        cheapest, bound = self._cheapest(prices, search)
        order = np.argsort(search.costs(cheapest.candidates), kind="stable")
        # If a few new candidates change nothing, more of them have to be added.
        new = self._master.add(cheapest.candidates.where(order), tuning.new_each << self._idle)
        # Several rounds may change nothing, with searches that are too large to prove anything.
        stuck = not cheapest.exact and self._idle >= tuning.most_idle
        return new and not stuck, bound

    def _cheapest(self, prices: Prices, search: Search) -> tuple[Cheapest, int]:
        """The cheapest candidates at these prices, and the bound that this proves."""
        capacity_cost = self._bench.capacity_cost(prices)
        # In a plan that costs no more than what is enough, no stack costs more, priced, than that
        # and the prices of all pieces. Where blocks are paid for, what the other stacks cost may be
        # negative, but no more so.
        paid = max(-prices.each * prices.blocks, 0)
        dearest = self._enough + capacity_cost + paid + 1
        most, known = self._bench.deadline.tuning.most_partial_priced, self._master.pool
        cheapest = search.cheapest(self._question.window, most, known, dearest)
        bound = self._question.served.bound(cheapest.least, capacity_cost)
        # The bound may fall as well as rise from round to round; the best one is kept.
        if bound > self._best.bound:
            self._best = replace(self._best, prices=prices, least=cheapest.least, bound=bound)
        return cheapest, bound


def dearest_plan(bench: Workbench, goal: Goal) -> int:
    """Above the cost of any plan: every piece in every clique, with every offset."""
    stock = bench.stock
    cliques, demands = len(bench.problem.cliques), len(bench.problem.demands)
    each = np.abs(goal.sides[0].pieces)
    if not goal.errors:
        return int((each * stock.capacities).sum()) * cliques
    each += np.abs(stock.deviations)
    offsets = int(np.abs(bench.starts.offsets).max(initial=0))
    if stock.squares:
        offsets = bench.problem.measure.error(offsets + stock.most_off, 0)
    return int((each * stock.capacities).sum()) * cliques + offsets * demands


def dearest(question: Question) -> int:
    """No plan that keeps to the caps costs more."""
    served, goal = question.served.total, question.goal
    capped = (served * int(cap.most.max()) for cap in question.caps if cap.goal is goal)
    return min([dearest_plan(question.bench, goal), *capped])


def room(priced: Priced, served: Quota, most: int) -> Ints:
    """By demand, the most a candidate may cost, priced, in a plan that costs ``most`` or less."""
    own = served.counted(priced.least)
    return np.where((priced.least >= NEVER) | (own < 0), -1, own + most - priced.bound)
