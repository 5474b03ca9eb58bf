"""The best stacks of a single demand in their order, each with its rank proven."""

from collections.abc import Sequence
from typing import TypeAlias

import numpy as np
from msgspec import Struct

from wrung.deadline import Deadline
from wrung.planning import direct
from wrung.planning.assignment import hand_out
from wrung.planning.blockwise.rules import unlike
from wrung.planning.candidates.goals import first_window, objective_goal, worst_error
from wrung.planning.candidates.search import Search
from wrung.planning.candidates.stock import Ints, by_error
from wrung.planning.candidates.walk import Candidates, no_candidates
from wrung.planning.candidates.workbench import FREE, Workbench, set_up
from wrung.planning.objectives.serving import own_caps
from wrung.planning.problem import Problem

Kinds: TypeAlias = tuple[tuple[int, int, int, bool, str], ...]
"""Nominal, deviation, margin, role, step block of each piece, in order: what tells stacks apart."""


class Ranked(Struct, frozen=True, kw_only=True):
    """A stack, and whether every stack that is better by the objective is known."""

    stack: tuple[int, ...]
    proven: bool


class Ranking(Struct, frozen=True, kw_only=True):
    """Stacks of the first demand, best first; no two of the same kinds of pieces.

    Attributes:
        stacks: those that are proven before those that are not.
        complete: there are no others.
    """

    stacks: tuple[Ranked, ...]
    complete: bool


def kinds_of(problem: Problem, stack: Sequence[int]) -> Kinds:
    """What a stack is made of, whichever of several interchangeable pieces it has."""
    pieces = [problem.pieces[index] for index in stack]
    return tuple(
        sorted((p.nominal, p.deviation, p.margin, p.wear, p.block.body or "") for p in pieces)
    )


def rank(problem: Problem, wanted: int, deadline: Deadline) -> Ranking:
    """The best stacks of the only demand: by tables, or by cuts where these would be too large."""
    tabled = by_tables(problem, wanted, deadline)
    return by_cuts(problem, wanted, deadline) if tabled is None else tabled


def by_tables(problem: Problem, wanted: int, deadline: Deadline) -> Ranking | None:
    """From candidates within a limit that rises; None where tables would be too large."""
    bench = set_up(problem, by_error(problem), deadline)
    return None if bench is None else _Rising(bench, wanted).run()


class _Rising:
    """Raises the limit until there are enough, and lowers it again where too many are within it."""

    def __init__(self, bench: Workbench, wanted: int) -> None:
        self._bench, self._wanted = bench, wanted
        self._tuning = bench.deadline.tuning
        self._goal = objective_goal(bench.problem, bench.stock, bench.starts, signs=True)
        self._search = Search(bench, self._goal, own_caps(bench))

    def run(self) -> Ranking:
        """All stacks, or the best of them, as far as there is time."""
        every = self._within(FREE, self._tuning.most_partial_of_all)
        return self._raised() if every is None else self._ranking(every, complete=True)

    def _raised(self) -> Ranking:
        """Those within the highest limit that lets all be listed, or the first with enough."""
        bench, window = self._bench, first_window(self._bench.stock) + 1
        # None costs less.
        floor = int(self._search.floors()[0])
        worst = worst_error(bench.stock, bench.starts)
        # Every stack keeps to this.
        most = worst + self._goal.blocks * bench.problem.demands[0].most
        last = max(min(most, FREE), floor)
        good, bad, known = -1, last + 1, no_candidates()
        while len(known) < self._wanted and bad - good > 1 and not bench.deadline.passed:
            # Once a limit was too high, half way between the two.
            limit = min(floor + window, last) if bad > last else (good + bad) // 2
            found = self._within(limit, self._tuning.most_partial_ranked)
            if found is None:
                bad = limit
            else:
                good, known = limit, found
            window *= self._tuning.steepness
        if len(known) >= self._wanted or good == last or bench.deadline.passed:
            return self._ranking(known, complete=good == last)
        return self._cut_off(known, good, bad)

    def _cut_off(self, known: Candidates, good: int, bad: int) -> Ranking:
        """With some from beyond: better without a proven rank than a list that is too short."""
        proven = self._ranking(known, complete=False)
        some = self._within(bad, FREE, self._tuning.beam)
        if some is None:
            return proven
        beyond = some.where(self._goal.costs(some) > good)
        # One step above a full list, stacks differ in nothing that counts, if blocks count, too.
        level = self._goal.blocks > 0 and bad - good == 1
        more = self._ranked(beyond, self._wanted - len(known), proven=level)
        return Ranking(stacks=(*proven.stacks, *more), complete=False)

    def _within(self, limit: int, most: int, beam: int | None = None) -> Candidates | None:
        return self._search.within(np.array([limit], np.int64), most, beam)

    def _ranking(self, found: Candidates, *, complete: bool) -> Ranking:
        return Ranking(
            stacks=tuple(self._ranked(found, self._wanted, proven=True)),
            complete=complete and len(found) <= self._wanted,
        )

    def _ranked(self, found: Candidates, most: int, *, proven: bool) -> list[Ranked]:
        """By what is compared; ties by what the stacks are made of."""
        # Descending, so that the -1 beyond the end of a stack comes last.
        kinds = -np.sort(-found.kinds, axis=1)
        order: Ints = np.lexsort((*kinds.T[::-1], found.counts, self._goal.costs(found)))
        plans = (hand_out(self._bench, found.where(row)) for row in order[:most, None])
        return [Ranked(stack=stack or (), proven=proven) for (stack,) in plans]


def by_cuts(problem: Problem, wanted: int, deadline: Deadline) -> Ranking:
    """The same by finding the best one again and again, each time excluding those known."""
    stacks: list[Ranked] = []
    complete = False
    while len(stacks) < wanted and deadline.remaining > deadline.tuning.least_seconds_for_next:
        without = unlike(0, [each.stack for each in stacks])
        part = deadline.share(deadline.tuning.share_for_next)
        found = direct.search(problem, part, further=(without,))
        complete = found.served_proven and found.most_served == 0
        stack = found.plan[0] if found.plan else None
        if stack is not None:
            stacks.append(Ranked(stack=stack, proven=found.objective_proven))
        if stack is None or not found.objective_proven:
            break
    return Ranking(stacks=tuple(stacks), complete=complete)
