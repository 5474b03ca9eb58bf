"""Which sums some whole numbers reach, and with how few of them: all sums at once.

A cell stands for a sum and holds the least number of sizes that add up to it. One more size is one
shift and one minimum, as in the textbook dynamic programme for the knapsack (Bellman, *Dynamic
Programming*, 1957): 112 sizes over 120 000 sums take less than half a millisecond. Where numbers do
not matter, sums are the bits of one number, which takes half as long.
"""

from collections.abc import Sequence
from typing import Final, TypeAlias

import numpy as np
import numpy.typing as npt

from wrung.tuning import Tuning

Counts: TypeAlias = npt.NDArray[np.uint8] | npt.NDArray[np.uint16]
Reached: TypeAlias = npt.NDArray[np.bool_]
Bits: TypeAlias = int
"""A set of sums: bit ``s`` is set where some of the sizes add up to ``s``."""

NONE: Final = 254
"""No sizes have the sum. One more still fits a byte, so that nothing has to be masked."""
_NONE_OF_MANY: Final = (1 << 16) - 2


def affordable(
    sizes: Sequence[int], limit: int, *, seconds: float, room: int, tuning: Tuning
) -> bool:
    """Whether the sums up to ``limit`` can be worked out in the time and in so many bytes."""
    work = len(sizes) * limit
    quick = work <= min(tuning.most_work_on_sums, seconds * tuning.work_on_sums_a_second)
    # To pick sizes, a bit is kept for each of them and each sum.
    held = limit * tuning.bytes_a_sum + work // 8
    return quick and limit <= tuning.most_sums and held <= room


def put(counts: Counts, size: int, onto: Counts | None = None) -> None:
    """Let each sum, the last axis, have one more of a size; of those ``onto`` which it is put.

    A shifted copy is made before anything is written: no sum gets it twice.
    """
    if 0 < size < counts.shape[-1]:
        before = counts if onto is None else onto
        above = counts[..., size:]
        np.minimum(above, before[..., :-size] + 1, out=above)


def least_counts(sizes: Sequence[int], limit: int) -> Counts:
    """By sum up to ``limit``, the least number of sizes; see `most_of` for those that none have."""
    counts = _nothing(sizes, limit)
    for size in sizes:
        put(counts, size)
    return counts


def _nothing(sizes: Sequence[int], limit: int) -> Counts:
    """The sums of no size, in cells that can count as many of the sizes as a sum may have."""
    fitting = int(np.searchsorted(np.cumsum(np.sort(sizes)), limit, side="right"))
    counts: Counts = np.full(limit + 1, NONE, np.uint8)
    if fitting >= NONE:
        counts = np.full(limit + 1, _NONE_OF_MANY, np.uint16)
    counts[0] = 0
    return counts


def most_of(counts: Counts, most: int | None) -> int:
    """The limit itself, or one that every sum keeps to that some sizes have, and no other."""
    none = NONE if counts.dtype == np.uint8 else _NONE_OF_MANY
    return none - 1 if most is None else min(most, none - 1)


def reached(sizes: Sequence[int], limit: int) -> Reached:
    """Which sums up to ``limit`` some of the sizes have."""
    bits, mask = 1, (1 << limit + 1) - 1
    for size in sizes:
        if size <= limit:  # a longer shift takes room before its mask
            bits |= (bits << size) & mask
    octets = np.frombuffer(bits.to_bytes(limit // 8 + 1, "little"), np.uint8)
    found: Reached = np.unpackbits(octets, bitorder="little")[: limit + 1].astype(np.bool_)
    return found


def pick(sizes: Sequence[int], total: int) -> tuple[int, ...]:
    """Positions of the fewest sizes that add up to ``total``, which some of them must."""
    counts = _nothing(sizes, total)
    # By size, a bit for each sum from the size on that it made smaller.
    taken: list[npt.NDArray[np.uint8]] = []
    for size in sizes:
        above, put_on = counts[size:], counts[: max(len(counts) - size, 0)] + 1
        taken.append(np.packbits(put_on < above, bitorder="little"))
        np.minimum(above, put_on, out=above)
    found: list[int] = []
    for place in range(len(sizes) - 1, -1, -1):
        rest = total - sizes[place]
        if rest >= 0 and taken[place][rest // 8] >> rest % 8 & 1:
            found.append(place)
            total = rest
    return tuple(reversed(found))


def as_bits(mask: npt.NDArray[np.bool_]) -> Bits:
    """The places where the mask is set, as a set of sums."""
    return int.from_bytes(np.packbits(mask, bitorder="little").tobytes(), "little")
