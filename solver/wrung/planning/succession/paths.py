"""One sequence by itself: a shortest way through its candidates, from stack to stack."""

from collections.abc import Sequence
from itertools import pairwise
from typing import Final

import numpy as np
from msgspec import Struct

from wrung.planning.candidates.stock import Ints
from wrung.planning.succession.kept import Places, kept

_MOST_CELLS: Final = 1_000_000


class Path(Struct, frozen=True, kw_only=True):
    """The rows chosen, one a demand of the sequence, and the blocks that change on the way."""

    rows: tuple[int, ...]
    changes: int


def shortest_path(layers: Sequence[Ints], used: Places, counts: Ints) -> Path:
    """The path with the fewest changes: Bellman's recursion over the stacks in their order.

    Args:
        layers: for each demand in turn the rows to choose from, none of them empty.
        used: what each row uses, see `kept.places`.
        counts: blocks of each row.
    """
    least = np.zeros(len(layers[0]), np.int64)
    ways: list[Ints] = []
    for before, after in pairwise(layers):
        way, least = _step(before, after, least + counts[before], used)
        least = least + counts[after]
        ways.append(way)
    places = [int(least.argmin())]
    for way in reversed(ways):
        places.append(int(way[places[-1]]))
    rows = (int(layer[at]) for layer, at in zip(layers, reversed(places), strict=True))
    return Path(rows=tuple(rows), changes=int(least.min()))


def _step(before: Ints, after: Ints, spent: Ints, used: Places) -> tuple[Ints, Ints]:
    """For each row after, the best row before it, and what that comes to without its own blocks."""
    # In slices, so that the matrices stay small.
    width = max(_MOST_CELLS // len(before), 1)
    ways: list[Ints] = []
    least: list[Ints] = []
    for first in range(0, len(after), width):
        stay = kept(used[before], used[after[first : first + width]])
        # What stays counts in both stacks, though it neither comes off nor goes on.
        total = spent[:, None] - 2 * stay
        ways.append(total.argmin(axis=0))
        least.append(total.min(axis=0))
    return np.concatenate(ways), np.concatenate(least)
