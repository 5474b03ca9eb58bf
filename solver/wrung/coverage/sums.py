"""The least number of blocks for every sum, see `wrung.subset_sums`, with wear blocks told apart.

A cell stands for a sum, in steps that all blocks are multiples of. A layer holds the sums with so
many wear blocks.
"""

from collections.abc import Iterable
from typing import Final, TypeAlias

import numpy as np
import numpy.typing as npt
from msgspec import Struct

from wrung import subset_sums
from wrung.deadline import Deadline
from wrung.subset_sums import NONE

Sums: TypeAlias = npt.NDArray[np.uint8]

MOST_BLOCKS: Final = 250
"""No stack of more blocks is looked for; none that is wrung by hand has half as many."""


class Kind(Struct, frozen=True, kw_only=True):
    """Blocks of one length and role; ``size`` is in steps of the sums.

    The steps of all step blocks are one kind, as a stack has one of them at most: ``others`` are
    the sizes that it may have instead.
    """

    size: int
    is_wear: bool
    count: int = 1
    is_step: bool = False
    others: tuple[int, ...] = ()


class OutOfTimeError(Exception):
    """The deadline passed in the middle; whoever set it answers with what there is."""


def nothing(layers: int, top: int) -> Sums:
    """The sums ``0..top`` of no blocks, for up to ``layers - 1`` wear blocks."""
    sums = np.full((layers, top + 1), NONE, dtype=np.uint8)
    sums[0, 0] = 0
    return sums


def put(sums: Sums, kind: Kind) -> None:
    """Let every stack have one block more, of that kind."""
    if kind.is_step:
        before = sums.copy()
        for size in (kind.size, *kind.others):
            subset_sums.put(sums, size, onto=before)
        return
    if not kind.is_wear:
        subset_sums.put(sums, kind.size)
        return
    # From the top down, so that no stack gets the block twice.
    for layer in range(len(sums) - 1, 0, -1):
        subset_sums.put(sums[layer], kind.size, onto=sums[layer - 1])


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
