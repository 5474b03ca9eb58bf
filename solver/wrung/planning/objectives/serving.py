"""The first objective: as many demands as can be served, and with how few blocks."""

from typing import Final

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from wrung.planning.building.proofs import Proofs
from wrung.planning.candidates.goals import BLOCK, block_goal, error_goal
from wrung.planning.candidates.search import Cap, Search
from wrung.planning.candidates.stock import NEVER, Ints
from wrung.planning.candidates.walk import Candidates
from wrung.planning.candidates.workbench import FREE, Workbench
from wrung.planning.deadline import Deadline
from wrung.planning.objectives.question import Question, Settled
from wrung.planning.objectives.stages import settle_sum
from wrung.planning.selection.choice import Choice
from wrung.planning.selection.scarcity import most_served

_MOST_OFFERED: Final = 12_000
"""Where it is open whether a plan serves as many: the direct model sooner shows that none does."""

_MOST_OFFERED_QUICK: Final = 2_000
"""Candidates, before it is worked out more closely how many can be served."""

_MOST_ALIKE: Final = 40
"""Candidates of one demand that the first pool begins with."""

_FOR_A_NUMBER: Final = 0.2
"""Effort, see `Choice.solve`, to see how many the candidates at hand serve."""
_SHARE_FOR_A_NUMBER: Final = 0.4
"""Of the time left, where that is less."""


class Served(Struct, frozen=True, kw_only=True):
    """The largest number served.

    Attributes:
        count: demands served by the plan found.
        most: no plan serves more.
        blocks: the stage that found it: fewest blocks, over pieces by nominal length.
    """

    count: int
    most: int
    blocks: Settled


def own_caps(bench: Workbench) -> tuple[Cap, ...]:
    """The demands' own limits on blocks and on errors, if any of them limits anything."""
    return (*_block_caps(bench), *_error_caps(bench))


def _block_caps(bench: Workbench) -> tuple[Cap, ...]:
    most = np.array([d.most for d in bench.problem.demands], np.int64)
    # A limit above all pieces limits nothing, and a cap costs a table.
    if (most >= len(bench.problem.pieces)).all():
        return ()
    return (Cap(goal=block_goal(bench.stock, bench.starts), most=most * BLOCK),)


def _error_caps(bench: Workbench) -> tuple[Cap, ...]:
    if not bench.problem.limits_errors:
        return ()
    limits = [d.most_error for d in bench.problem.demands]
    most = np.array([FREE if n is None else min(n, FREE) for n in limits], np.int64)
    return (Cap(goal=error_goal(bench.stock, bench.starts), most=most),)


def serve(bench: Workbench, deadline: Deadline) -> Served | None:
    """Serve as many demands as possible; None if that could not be worked out."""
    caps, goal = own_caps(bench), block_goal(bench.stock, bench.starts)
    cheapest = Search(bench, goal, bench.no_prices(), caps).cheapest(0)
    if not cheapest.exact:
        return None
    possible = int((cheapest.least < NEVER).sum())
    most = min(possible, Proofs(bench.problem).served_at_most())
    if not most or deadline.passed:
        return None
    question = Question(bench=bench, goal=goal, caps=caps, served=most, window=0, grain=BLOCK)
    return _Serving(question, deadline).run(first_of_each(cheapest.candidates, _MOST_ALIKE))


class _Serving:
    """Goes down from the most that may be served to a number that is."""

    def __init__(self, question: Question, deadline: Deadline) -> None:
        self._question = question
        self._deadline = deadline
        self._most = question.served
        self._at_hand = 0

    def run(self, pool: Candidates) -> Served | None:
        """From candidates to begin with; None if the time is up before any plan was found."""
        quick = replace(self._question, most_offered=_MOST_OFFERED_QUICK, quick=True)
        blocks = settle_sum(quick, pool, self._deadline)
        if blocks.end == "settled":
            return self._served(blocks, self._most)
        pool = self._learn(blocks, self._most, pool)
        if not len(blocks.chosen):
            # Closer than the proofs before, but needless where that many can be served.
            closer = most_served(self._question.bench, self._question.caps, self._deadline)
            self._most = min(self._most, closer)
        return self._down(pool)

    def _down(self, pool: Candidates) -> Served | None:
        count = self._most
        while count > 0 and not self._deadline.passed:
            question = replace(self._question, served=count)
            if count > self._at_hand:
                question = replace(question, most_offered=_MOST_OFFERED)
            blocks = settle_sum(question, pool, self._deadline)
            if len(blocks.chosen):
                return self._served(blocks, count)
            pool = self._learn(blocks, count, pool)
            # Nothing found in the time for it says nothing: the count then goes down by one.
            count = min(count - 1, self._at_hand or count - 1)
        return None

    def _served(self, blocks: Settled, count: int) -> Served:
        return Served(count=count, most=self._most, blocks=blocks)

    def _learn(self, blocks: Settled, count: int, pool: Candidates) -> Candidates:
        """What an outcome says of the numbers, and the candidates to go on from."""
        # Only refusals without a gap from the top down lower what is proven.
        if blocks.end == "impossible" and self._most == count:
            self._most -= 1
        pool = pool if blocks.priced is None else blocks.priced.pool
        if blocks.end == "open":
            found = len(blocks.chosen)
            self._at_hand = found or _at_hand(self._question.bench, pool, self._deadline)
        return pool


def _at_hand(bench: Workbench, pool: Candidates, deadline: Deadline) -> int:
    """How many the candidates seen so far serve: a number that leads to a plan soon."""
    choice = Choice(bench, pool, served=None)
    part = deadline.share(_SHARE_FOR_A_NUMBER)
    return len(choice.solve("most_served", pool.counts, part, effort=_FOR_A_NUMBER).rows)


def first_of_each(candidates: Candidates, most: int) -> Candidates:
    """No more than ``most`` candidates of each demand, as they come."""
    order = np.argsort(candidates.demands, kind="stable")
    own = candidates.demands[order]
    rank: Ints = np.arange(len(order)) - np.searchsorted(own, own)
    return candidates.where(order[rank < most])
