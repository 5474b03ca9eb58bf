"""What a step of a sequence can be made of: one stack, or several that stand together."""

from collections.abc import Sequence
from typing import Final

import numpy as np
from msgspec import Struct

from wrung.planning.candidates.stock import Bools, Ints
from wrung.planning.candidates.walk import Candidates
from wrung.planning.succession.kept import Counts

_MOST_TOGETHER: Final = 100_000
"""Ways to put stacks side by side that are looked at for one step."""
_MOST_CELLS: Final = 20_000_000
"""Ways times kinds, of 2 bytes."""


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


def ways(
    step: Sequence[int], candidates: Candidates, uses: Counts, allowed: Bools, room: Room
) -> Ways | None:
    """All ways of a step within its room; None if there are too many to look at."""
    found = np.zeros((1, 0), np.int64)
    for demand in step:
        own = np.flatnonzero(allowed & (candidates.demands == demand))
        together = len(found) * len(own)
        if together > _MOST_TOGETHER or together * uses.shape[1] > _MOST_CELLS:
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
