"""What a step of a sequence can be made of: one stack, or several that stand together."""

from collections.abc import Sequence

import numpy as np
from msgspec import Struct

from wrung.planning.candidates.stock import Bools, Ints
from wrung.planning.candidates.walk import Candidates
from wrung.planning.succession.counting import Counts
from wrung.tuning import Tuning


class Ways(Struct, frozen=True, kw_only=True):
    """Ways to build a step.

    Attributes:
        rows: of the candidates, one a demand of the step; a row a way.
        uses: how many pieces of each kind are used; a column a kind.
        blocks: used in all.
    """

    rows: Ints
    uses: Counts
    blocks: Ints


class Room(Struct, frozen=True, kw_only=True):
    """What the ways of a step keep to: blocks and errors in all, and the pieces that there are."""

    blocks: int
    errors: int
    capacities: Ints
    tuning: Tuning


def ways(
    step: Sequence[int], candidates: Candidates, uses: Counts, allowed: Bools, room: Room
) -> Ways | None:
    """All ways of a step within its room; None if there are too many to look at."""
    found, tuning = np.zeros((1, 0), np.int64), room.tuning
    for demand in step:
        own = np.flatnonzero(allowed & (candidates.demands == demand))
        together = len(found) * len(own)
        if together > tuning.most_ways_of_a_step or together * uses.shape[1] > tuning.way_cells:
            return None
        found = np.hstack([np.repeat(found, len(own), axis=0), np.tile(own, len(found))[:, None]])
        found = _within(found, candidates, uses, room)
    return Ways(rows=found, uses=_sum(uses, found), blocks=candidates.counts[found].sum(axis=1))


def _within(rows: Ints, candidates: Candidates, uses: Counts, room: Room) -> Ints:
    few = candidates.counts[rows].sum(axis=1) <= room.blocks
    rows = rows[few & (candidates.errors[rows].sum(axis=1) <= room.errors)]
    fits = (_sum(uses, rows) <= room.capacities).all(axis=1)
    within: Ints = rows[fits]
    return within


def _sum(uses: Counts, rows: Ints) -> Counts:
    # Stack by stack: all at once would need memory for every combination of stacks.
    total = np.zeros((len(rows), uses.shape[1]), uses.dtype)
    for column in rows.T:
        total += uses[column]
    return total
