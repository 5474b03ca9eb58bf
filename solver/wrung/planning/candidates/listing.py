"""Candidates by the way that they begin: all of those starts that have few, some of the others."""

from collections.abc import Sequence

import numpy as np
from msgspec import Struct

from wrung.deadline import Deadline
from wrung.planning.candidates.layout import Layout
from wrung.planning.candidates.starts import Starts
from wrung.planning.candidates.stock import Bools, Ints, Stock
from wrung.planning.candidates.walk import START, Candidates, Limit, Walk, complete


class Listing(Struct, frozen=True, kw_only=True):
    """Candidates, and which start each of them has.

    Attributes:
        candidates: one a row.
        starts: the start of each row.
        whole: by start, whether these are all that there are.
    """

    candidates: Candidates
    starts: Ints
    whole: Bools


def list_by_start(  # noqa: PLR0913, PLR0917 - the parts of one question
    stock: Stock,
    layout: Layout,
    starts: Starts,
    limits: Sequence[Limit],
    most: int,
    deadline: Deadline,
    each: int | None = None,
) -> Listing | None:
    """As `enumerate_candidates`; with ``each``, so many partial stacks of a start at a time."""
    walk = _ByStart(layout, limits, most, deadline, each)
    walk.crowded = np.zeros(len(starts.demands), np.bool_)
    ended = walk.run(starts, None)
    if ended is None:
        return None
    candidates = complete(stock, starts, *ended)
    return Listing(candidates=candidates, starts=ended[0], whole=~walk.crowded)


class _ByStart(Walk):
    """With a beam for every start."""

    crowded: Bools
    """By start, whether not all of its partial stacks were followed."""

    def _followed(self, item: Ints, row: Ints, front: Ints) -> tuple[Ints, Ints]:
        beam = self._beam
        if beam is None or len(row) <= beam:
            return item, row
        own: Ints = front[START].take(row)
        many = np.bincount(own, minlength=len(self.crowded))
        self.crowded |= many > beam
        order = np.argsort(own, kind="stable")
        own = own[order]
        rank: Ints = np.arange(len(own)) - np.searchsorted(own, own)
        many = many[own]
        # Spread out, as there.
        spread: Bools = rank * beam // many > (rank - 1) * beam // many
        kept = np.sort(order[spread | (many <= beam)])
        return item[kept], row[kept]
