"""The first objective: as many demands as can be served, and with how few blocks."""

from typing import Final

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from wrung.planning.candidates.goals import BLOCK, block_goal, error_goal
from wrung.planning.candidates.search import Cap, Search
from wrung.planning.candidates.stock import NEVER, Ints
from wrung.planning.candidates.walk import Candidates
from wrung.planning.candidates.workbench import FREE, Workbench
from wrung.planning.deadline import Deadline
from wrung.planning.objectives.stages import Question, Settled, settle_sum
from wrung.planning.selection.choice import Choice
from wrung.planning.selection.scarcity import most_served

_MOST_OFFERED: Final = 12_000
"""Where it is open whether a plan serves as many: the direct model sooner shows that none does."""

_MOST_ALIKE: Final = 200
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
    pool = first_of_each(cheapest.candidates, _MOST_ALIKE)
    possible = int((cheapest.least < NEVER).sum())
    most = min(possible, most_served(bench, caps, deadline))
    count, at_hand = most, 0
    while count > 0 and not deadline.passed:
        question = Question(bench=bench, goal=goal, caps=caps, served=count, window=0, grain=BLOCK)
        if count > at_hand:
            question = replace(question, most_offered=_MOST_OFFERED)
        blocks = settle_sum(question, pool, deadline)
        if len(blocks.chosen):
            return Served(count=count, most=most, blocks=blocks)
        # Only refusals without a gap from the top down lower what is proven.
        most = most - 1 if blocks.end == "impossible" and most == count else most
        pool = pool if blocks.priced is None else blocks.priced.pool
        count -= 1
        if blocks.end == "open":
            at_hand = _at_hand(bench, pool, deadline)
            # Nothing found in that time says nothing: the count then goes down by one.
            count = min(count, at_hand or count)
    return None


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
