"""The least number of blocks for every sum at once: the 0/1 knapsack programme on whole arrays.

A cell stands for a sum, in steps that all blocks are multiples of, and holds the least number of
blocks that have it. A layer holds the sums with so many wear blocks. One more block is one shift
and one minimum (Bellman 1957), so that 112 blocks over 400 000 sums take about 10 ms.
"""

from collections.abc import Iterable
from typing import Final, TypeAlias

import numpy as np
import numpy.typing as npt
from msgspec import Struct

from wrung.deadline import Deadline

Sums: TypeAlias = npt.NDArray[np.uint8]

NONE: Final = 254
"""No blocks have the sum. One more still fits a byte, so that nothing has to be masked."""

MOST_BLOCKS: Final = 250
"""No stack of more blocks is looked for; none that is wrung by hand has half as many."""


class Kind(Struct, frozen=True, kw_only=True):
    """Blocks of one length and role; ``size`` is in steps of the sums."""

    size: int
    is_wear: bool
    count: int = 1


class OutOfTimeError(Exception):
    """The deadline passed in the middle; whoever set it answers with what there is."""


def nothing(layers: int, top: int) -> Sums:
    """The sums ``0..top`` of no blocks, for up to ``layers - 1`` wear blocks."""
    sums = np.full((layers, top + 1), NONE, dtype=np.uint8)
    sums[0, 0] = 0
    return sums


def put(sums: Sums, kind: Kind) -> None:
    """Let every stack have one block more, of that kind."""
    size = kind.size
    if size >= sums.shape[1]:
        return
    if not kind.is_wear:
        # The sum is a new array, made before anything is written: no stack gets the block twice.
        np.minimum(sums[:, size:], sums[:, :-size] + 1, out=sums[:, size:])
        return
    # From the top down, so that no stack gets the block twice.
    for layer in range(len(sums) - 1, 0, -1):
        above = sums[layer, size:]
        np.minimum(above, sums[layer - 1, :-size] + 1, out=above)


def put_all(sums: Sums, kinds: Iterable[Kind], deadline: Deadline) -> Sums:
    """The same array, with every block of the kinds put.

    Raises:
        OutOfTimeError: the deadline passed.
    """
    for kind in kinds:
        for _ in range(kind.count):
            if deadline.passed:
                raise OutOfTimeError
            put(sums, kind)
    return sums
