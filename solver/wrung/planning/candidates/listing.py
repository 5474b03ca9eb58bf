"""Candidates listed: all that there are within limits, or some of each way to begin."""

from collections.abc import Sequence

import numpy as np
from msgspec import Struct

from wrung.planning.candidates.stock import Bools, Ints
from wrung.planning.candidates.walk import START, Candidates, Front, Limit, Walk, complete
from wrung.planning.candidates.workbench import Workbench


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


def enumerate_candidates(
    bench: Workbench,
    limits: Sequence[Limit],
    most: int,
    *,
    levels: int | None = None,
    beam: int | None = None,
) -> Candidates | None:
    """Every candidate within all limits; None past ``most`` partial stacks or the deadline.

    With ``levels``, what candidates use of the pieces of the first so many levels, which the
    limits say can be completed; their errors then mean nothing. With ``beam``, some candidates
    only: no more partial stacks than that are followed at a time.
    """
    ended = Walk(bench.layout, limits, most, bench.deadline, beam).run(bench.starts, levels)
    return None if ended is None else complete(bench.stock, bench.starts, *ended)


def list_by_start(
    bench: Workbench, limits: Sequence[Limit], most: int, each: int | None = None
) -> Listing | None:
    """The same; with ``each``, so many partial stacks of a start at a time."""
    walk = _ByStart(bench.layout, limits, most, bench.deadline, each)
    walk.crowded = np.zeros(len(bench.starts.demands), np.bool_)
    ended = walk.run(bench.starts, None)
    if ended is None:
        return None
    candidates = complete(bench.stock, bench.starts, *ended)
    return Listing(candidates=candidates, starts=ended[0], whole=~walk.crowded)


class _ByStart(Walk):
    """With a beam for every start."""

    crowded: Bools
    """By start, whether not all of its partial stacks were followed."""

    def _followed(self, item: Ints, row: Ints, front: Front) -> tuple[Ints, Ints]:
        beam = self._beam
        if beam is None or len(row) <= beam:
            return item, row
        own: Ints = front[START][row]
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
