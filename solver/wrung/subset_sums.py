"""Which sums some whole numbers can reach, exactly and all at once, as the bits of one number.

Bit ``s`` is set where some of the sizes add up to ``s``. One more size shifts the set and merges
the result with it; 81 sizes over 300 000 sums take half a millisecond. This is the textbook dynamic
programme for the subset-sum problem (Bellman 1957), on all the sums in a machine word at a time.
"""

from collections.abc import Sequence
from typing import TypeAlias

import numpy as np
import numpy.typing as npt

from wrung.tuning import TUNING, Tuning

Bits: TypeAlias = int
Layers: TypeAlias = tuple[Bits, ...]
"""Either one set of sums, of any number of sizes, or a set for each count ``0..most``: the sums
that at most that many sizes reach."""


def affordable(  # noqa: PLR0913 - what is asked, and what it may take
    sizes: Sequence[int],
    most: int | None,
    limit: int,
    *,
    seconds: float,
    room: int | None = None,
    tuning: Tuning = TUNING,
) -> bool:
    """Whether the sums up to ``limit`` can be computed in the time and in this many bytes."""
    work = len(sizes) * (most or 1) * limit
    held = limit * ((most or 0) + 1) // 8 * tuning.copies_of_sums
    quick = work <= min(tuning.most_work_on_sums, seconds * tuning.work_on_sums_a_second)
    room = tuning.bytes_for_sums if room is None else room
    return limit <= tuning.most_sums and held <= room and quick


def sums(sizes: Sequence[int], most: int | None, limit: int) -> Layers:
    """The sums up to ``limit``; by count if ``most`` is given."""
    mask = (1 << limit + 1) - 1
    sizes = [size for size in sizes if size <= limit]  # a longer shift takes room before its mask
    if most is None:
        bits = 1
        for size in sizes:
            bits |= (bits << size) & mask
        return (bits,)
    # From the highest count down, so that no size is added to sums that hold it already.
    layers = [1] * (most + 1)
    for size in sizes:
        for count in range(most, 0, -1):
            layers[count] |= (layers[count - 1] << size) & mask
    return tuple(layers)


def _rests(sizes: Sequence[int], most: int | None, total: int) -> Layers:
    """The rests that such sums leave of the total, also by count."""
    if most is None:
        bits = 1 << total
        for size in sizes:
            bits |= bits >> size
        return (bits,)
    layers = [1 << total] * (most + 1)
    for size in sizes:
        for count in range(most, 0, -1):
            layers[count] |= layers[count - 1] >> size
    return tuple(layers)


def pick(sizes: Sequence[int], most: int | None, total: int) -> tuple[int, ...]:
    """Positions of sizes that add up to ``total``, which at most ``most`` of them must reach.

    It halves the sizes and finds the lowest sum of the left half that the right half completes, so
    that no table has to be kept for every size.
    """
    if total == 0:
        return ()
    if most == 1 or len(sizes) == 1:
        return (sizes.index(total),)
    half = len(sizes) // 2
    left = sums(sizes[:half], most, total)
    # Stored as the rest for the other half, so that a bit set in both is a way to split.
    right = _rests(sizes[half:], most, total)
    for count, reached in enumerate(left):
        common = reached & right[len(left) - 1 - count]
        if common:
            split = lowest(common, 0)
            one, other = (None, None) if most is None else (count, most - count)
            # What the left half uses of the count, the right one cannot.
            rest = pick(sizes[half:], other, total - split)
            return pick(sizes[:half], one, split) + tuple(half + place for place in rest)
    raise ValueError(f"{total} cannot be reached")


def few_affordable(sizes: Sequence[int], limit: int, tuning: Tuning = TUNING) -> bool:
    """Whether the sums that a few of the sizes reach are quickly known."""
    return affordable(
        sizes, tuning.few_blocks, limit, seconds=tuning.seconds_for_few, tuning=tuning
    )


def pick_few(
    sizes: Sequence[int], most: int | None, total: int, tuning: Tuning = TUNING
) -> tuple[int, ...]:
    """As `pick`, with the fewest sizes if these are few and that is quickly known.

    Otherwise few are used rather than many if the sizes stand in ascending order.
    """
    few_blocks = tuning.few_blocks
    if few_affordable(sizes, total, tuning) and (most is None or most > few_blocks):
        few = sums(sizes, min(few_blocks, len(sizes)), total)
        most = next((count for count, reached in enumerate(few) if reached >> total & 1), most)
    return pick(sizes, most, total)


def lowest(bits: Bits, start: int) -> int:
    """The lowest sum from ``start`` on, or -1."""
    rest = bits >> max(start, 0)
    return max(start, 0) + (rest & -rest).bit_length() - 1 if rest else -1


def highest(bits: Bits, end: int) -> int:
    """The highest sum up to ``end``, or -1."""
    end = min(end, bits.bit_length())  # a mask as long as the target could take gigabytes
    return (bits & ((1 << end + 1) - 1)).bit_length() - 1 if end >= 0 else -1


def listed(bits: Bits) -> bytes:
    """The set in a form that answers quickly about a few sums; for `lowest_listed`."""
    return bits.to_bytes(bits.bit_length() // 8 + 1, "little")


def lowest_listed(sums_listed: bytes, first: int, last: int) -> int:
    """The lowest sum in ``first..last``, or -1."""
    if first > last:
        return -1
    part = int.from_bytes(sums_listed[first // 8 : last // 8 + 1], "little")
    found = lowest(part, first % 8)
    steps = first - first % 8 + found
    return steps if found >= 0 and steps <= last else -1


def as_bits(mask: npt.NDArray[np.bool_]) -> Bits:
    """The places where the mask is set, as a set of sums."""
    return int.from_bytes(np.packbits(mask, bitorder="little").tobytes(), "little")
