"""Where pieces are spelt out in starts: all stacks are begun at once, then completed.

This is Benders' decomposition, see `completing.py`: a master problem packs starts, which tell which
fine pieces each stack uses and how far it is off, and learns from each choice that cannot be
completed.
"""

from collections.abc import Callable
from typing import Literal, TypeAlias

import numpy as np
from msgspec.structs import replace

from wrung.deadline import Deadline
from wrung.planning.candidates.search import Search
from wrung.planning.candidates.stock import Ints
from wrung.planning.candidates.walk import Candidates
from wrung.planning.objectives.completing import Completing, Cut, Within, within
from wrung.planning.pricing.question import Question
from wrung.planning.selection.choice import Choice
from wrung.planning.selection.scarcity import begun_rows

Outcome: TypeAlias = Literal["impossible", "possible", "open"]
"""Of plans within a limit: there is none, or a relaxation has one, or neither is known."""


class Decomposition:
    """Plans within one limit after another; what is learnt from one helps with the next.

    Args:
        question: asks for plans with no error above a limit.
    """

    def __init__(self, question: Callable[[int], Question]) -> None:
        self._question = question
        self._cuts: list[Cut] = []
        self._completing = Completing()

    def plan(self, limit: int, tries: int, deadline: Deadline) -> tuple[Outcome, Candidates | None]:
        """A plan within the limit, or whether there may be one."""
        asked = within(self._question(limit), limit)
        master = _Begun(asked, self._cuts)
        while tries > 0 and not deadline.passed:
            outcome, starts = master.choose(deadline)
            if outcome == "open" and not master.proven:
                # What was tried in vain may still be ruled out.
                self._cuts = [cut for cut in self._cuts if cut.proven]
                master = _Begun(asked, self._cuts)
                outcome, starts = master.choose(deadline)
            if not len(starts):
                return outcome, None
            found = self._completing.run(asked, starts, deadline)
            if isinstance(found, Candidates):
                return "possible", found
            if found is not None:
                self._cuts.append(found)
                master.add(found)
            tries -= found is None or not found.proven
        return "open", None


class _Begun:
    """The master problem: one start for each demand, no piece twice, and the cuts."""

    def __init__(self, asked: Within, cuts: list[Cut]) -> None:
        bench, caps = asked.question.bench, (*asked.question.caps, asked.cap)
        search = Search(bench, asked.cap.goal, caps)
        least = search.least_by_start()
        self._limit, self.proven = asked.limit, True
        self._rows, begun = begun_rows(bench.starts, least)
        self._begun = replace(begun, errors=np.maximum(least[self._rows], 0))
        self._choice = Choice(bench, self._begun, asked.question.served)
        for cut in cuts:
            self.add(cut)

    def add(self, cut: Cut) -> None:
        """No choice may break it."""
        if cut.limit >= self._limit:
            self._choice.limit_sum(cut.costs[self._rows], cut.most)
            self.proven &= cut.proven

    def choose(self, deadline: Deadline) -> tuple[Outcome, Ints]:
        """Starts for all stacks, far below the limit."""
        part = self._begun.errors * 100 // max(self._limit, 1)
        effort = deadline.tuning.effort_for_starts
        weights = part**4 // 100_000
        found = self._choice.solve("least_sum", weights, deadline, effort=effort, presolve=True)
        if found.verdict == "impossible" and self.proven:
            return "impossible", self._rows[:0]
        return "possible" if len(found.rows) else "open", self._rows[found.rows]
