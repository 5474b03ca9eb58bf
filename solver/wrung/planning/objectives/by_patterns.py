"""The least sum of costs where fine pieces are so scarce that fractions of them say little.

This is Benders' decomposition (*Numerische Mathematik* 4, 1962) with Lagrangian bounds: a master
problem packs patterns, whole ones, which tell which fine pieces each stack uses. What a pattern
costs at least, with prices for all other pieces, bounds every plan. The chosen patterns are
completed by a linear programme, whose dual values are the prices of the next cut: plans of interest
cost no more by these prices, either.
"""

from collections.abc import Callable
from typing import TypeAlias

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from wrung.deadline import Deadline
from wrung.planning.candidates.stock import NEVER, Ints, join_rows
from wrung.planning.candidates.walk import first_of_each
from wrung.planning.candidates.workbench import Prices, Workbench
from wrung.planning.objectives.closing import Closing, End, Settled, impossible
from wrung.planning.pricing.prices import Priced, price
from wrung.planning.pricing.question import Question
from wrung.planning.selection.choice import Choice
from wrung.planning.selection.scarcity import (
    Begun,
    Patterns,
    begun_by_patterns,
    begun_rows,
    packing,
)

Ask: TypeAlias = Callable[[Workbench], Question]
"""The question for a workbench; the goals of a question belong to its starts."""


class _Cut(Struct, frozen=True, kw_only=True):
    """Rows of a plan within the limit cost no more than the limit and ``spent`` together."""

    costs: Ints
    spent: int


class ByPatterns:
    """Packs patterns and completes them, until bound and plan meet or the time is up.

    Args:
        ask: the question for a workbench, as goals belong to its starts.
        bench: the one whose plans are wanted.
        priced: what prices prove, and the stacks seen.
        dearest: no plan costs more.
        known: the best plan so far.
        deadline: for the whole.
    """

    def __init__(  # noqa: PLR0913, PLR0917 - the parts of one question
        self,
        ask: Ask,
        bench: Workbench,
        priced: Priced,
        dearest: int,
        known: Settled,
        deadline: Deadline,
    ) -> None:
        self._ask, self._whole = ask, ask(bench)
        self._deadline = deadline
        self._grain = self._whole.grain
        # Costs in few digits are quicker to add up; rounded down, they say no more than is true.
        self._unit = max(self._grain >> 10, 1)
        self._more = np.zeros(len(bench.problem.demands), np.int64)
        self._prices = [priced.prices]
        self._bound = self._whole.up(max(priced.bound, known.bound))
        self._value, self._chosen = known.value, known.chosen
        self._most = min(dearest, self._value - self._grain)

    def run(self) -> Settled:
        """The best plan found, and what is proven of all."""
        master, in_vain, first = self._master(), 0, self._bound
        while master is not None and in_vain < self._patience(first):
            before = self._bound, self._most
            found = master.choose(self._most, self._deadline)
            if found.bound is not None:
                self._bound = max(self._bound, self._whole.up(found.bound))
            if self._bound > self._most or not len(found.rows) or self._deadline.passed:
                break
            self._complete(master, found)
            in_vain = in_vain + 1 if before == (self._bound, self._most) else 0
            if len(found.larger):
                self._more[found.larger] += self._deadline.tuning.spare_of_scarce
                master = self._master()
        end: End = "settled" if self._value <= self._bound else "open"
        if self._value >= NEVER and self._bound > self._most:
            return impossible()
        return Settled(
            end=end, value=self._value, bound=min(self._bound, self._value), chosen=self._chosen
        )

    def _patience(self, first: int) -> int:
        """Choices without progress; few where whole patterns prove no more than parts of them."""
        tuning = self._deadline.tuning
        return tuning.most_packed_in_vain if self._bound > first else tuning.most_packed_alike

    def _master(self) -> "_Master | None":
        """Over all patterns; None where there are too many."""
        begun = begun_by_patterns(self._whole.bench, self._whole.caps, self._more)
        if begun is None:
            return None
        master = _Master(begun, self._ask(begun.bench), self._whole, self._unit)
        for prices in self._prices:
            master.cut(prices)
        return master

    def _complete(self, master: "_Master", packed: "_Packed") -> None:
        """The best plan with these patterns, and a cut that says what they lack.

        A demand whose pattern is not enumerated has any of those that are.
        """
        rows = master.enumerated(packed)
        question = replace(self._ask(master.beginning(rows)), quick=True)
        least = question.search().cheapest(0).candidates
        pool = first_of_each(least, self._deadline.tuning.pool_each)
        slack, until = question.slack, self._deadline
        priced = price(question, pool, slack=slack, enough=self._most, deadline=until)
        self._prices.append(priced.prices)
        master.cut(priced.prices)
        if priced.bound > self._most:
            master.leave_out(rows, priced.bound)
            return
        found = Closing(question, priced, self._most, until).run()
        master.leave_out(rows, found.bound)
        if found.value < self._value:
            self._value, self._chosen = found.value, found.chosen
            self._most = self._value - self._grain


class _Packed(Struct, frozen=True, kw_only=True):
    """Chosen rows, or none.

    Attributes:
        rows: of the master.
        larger: demands whose patterns are not enumerated.
        bound: no plan of interest costs less; None if nothing is known.
    """

    rows: Ints
    larger: Ints
    bound: int | None


class _Master:
    """The master problem: one pattern for each demand, no piece twice, and the cuts."""

    def __init__(self, begun: Begun, question: Question, whole: Question, unit: int) -> None:
        self._question, self._whole, self._unit = question, whole, unit
        least = question.search().least_by_start()
        self._starts, own = begun_rows(question.bench.starts, least)
        self._begun = begun
        self._rows = join_rows([own, begun.larger])
        self._cuts: list[_Cut] = []
        self._left_out: list[Ints] = []
        self._least_left_out = NEVER

    def beginning(self, rows: Ints) -> Workbench:
        """The workbench with these patterns alone."""
        return self._question.bench.beginning(self._starts[rows])

    def enumerated(self, packed: _Packed) -> Ints:
        """Chosen rows that are; all of a demand for whose pattern its row of others stands."""
        own = np.isin(self._rows.demands, packed.larger)
        own[packed.rows] = True
        return np.flatnonzero(own[: len(self._starts)])

    def leave_out(self, rows: Ints, bound: int) -> None:
        """Never choose from these alone again: no plan that does costs less than the bound."""
        own = np.zeros(len(self._rows), np.int64)
        own[rows] = 1
        self._left_out.append(own)
        self._least_left_out = min(self._least_left_out, bound)

    def cut(self, prices: Prices) -> None:
        """Without the prices of what patterns are packed of: that they share in whole numbers."""
        bench = self._question.bench
        keep = np.ones(len(bench.stock.nominals), np.int64)
        keep[bench.starts.begun[bench.starts.begun >= 0]] = 0
        own = replace(prices, by_clique=tuple(each * keep for each in prices.by_clique))
        least = self._question.search(own).least_by_start()[self._starts]
        costs = np.concatenate([least, self._larger(own)]) // self._unit
        self._cuts.append(_Cut(costs=costs, spent=bench.capacity_cost(own)))

    def _larger(self, prices: Prices) -> Ints:
        """At least what those cost that are not enumerated, as they have many fine pieces."""
        larger, question = self._begun.larger, self._whole
        if not len(larger):
            return larger.demands
        floors = question.search(prices).floors()[larger.demands]
        by_kind, *others = prices.by_clique
        fine = np.setdiff1d(question.bench.layout.kinds, self._question.bench.layout.kinds)
        if others or not len(fine):
            return floors
        # What each of these pieces costs may be paid in advance, for as many as there are at least.
        each = min(int(side.pieces[fine].min()) for side in question.goal.sides) + prices.each
        off = np.zeros_like(by_kind)
        off[fine] = advance = max(each, 0) * 3 // 4
        paid = replace(prices, by_clique=(by_kind - off,))
        wear = int(question.bench.starts.counts.max(initial=0))
        rest = question.search(paid).floors()[larger.demands]
        least: Ints = np.maximum(floors, rest + advance * (larger.counts - wear))
        return least

    def choose(self, most: int, deadline: Deadline) -> _Packed:
        """Patterns that keep to all cuts, with the least costs by the first."""
        choice = self._choice(most)
        first, effort = self._cuts[0], deadline.tuning.effort_for_patterns
        found = choice.solve("least_sum", first.costs, deadline, effort=effort, presolve=True)
        bound, proven = None, self._least_left_out > most
        if found.verdict == "impossible" and proven:
            bound = most + 1
        elif len(found.rows) and proven:
            bound = found.bound * self._unit - first.spent
        there = found.rows < len(self._starts)
        return _Packed(rows=found.rows, larger=self._rows.demands[found.rows[~there]], bound=bound)

    def _choice(self, most: int) -> Choice:
        patterns = Patterns(rows=self._rows, there=self._begun.there)
        choice = packing(self._question.bench, patterns, self._question.served)
        for cut in self._cuts:
            choice.limit_sum(cut.costs, (most + cut.spent) // self._unit)
        for own in self._left_out:
            choice.limit_sum(own, self._question.served.total - 1)
        return choice
