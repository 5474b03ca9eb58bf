"""Which sums some blocks reach, and with how few of them: all sums at once.

Sums are in steps that all blocks share. A cell stands for a sum and holds the least number of
blocks that add up to it; a layer holds the sums with so many wear blocks. One more block is one
shift and one minimum, as in the textbook dynamic programme for the knapsack (Bellman, *Dynamic
Programming*, 1957): 112 blocks over 120 000 sums take less than half a millisecond. Where numbers
do not matter, sums are the bits of one number, which takes half as long.
"""

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from typing import Final, TypeAlias

import numpy as np
import numpy.typing as npt
from msgspec import Struct

from wrung.deadline import Deadline

Counts: TypeAlias = npt.NDArray[np.uint8] | npt.NDArray[np.uint16]
"""By number of wear blocks and sum, the least number of blocks."""
Reached: TypeAlias = npt.NDArray[np.bool_]
Bits: TypeAlias = int
"""A set of sums: bit ``s`` is set where some of the blocks add up to ``s``."""

NONE: Final = 254
"""No blocks have the sum. One more still fits a byte, so that nothing has to be masked."""
_NONE_OF_MANY: Final = (1 << 16) - 2


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


def counted(kinds: Iterable[Kind]) -> tuple[Kind, ...]:
    """Alike ones counted, the longest first."""
    ordered = sorted(Counter(kinds).items(), key=lambda item: (-item[0].size, item[0].is_wear))
    return tuple(Kind(size=kind.size, is_wear=kind.is_wear, count=n) for kind, n in ordered)


def one_step(sizes: Iterable[int]) -> tuple[Kind, ...]:
    """The kind of all steps of step blocks; none where there are none."""
    own = sorted(set(sizes))
    return (Kind(size=own[0], is_wear=False, is_step=True, others=tuple(own[1:])),) if own else ()


def affordable(kinds: Sequence[Kind], layers: int, limit: int, deadline: Deadline) -> bool:
    """Whether the sums up to ``limit`` can be worked out in the time and memory left."""
    tuning, cells = deadline.tuning, layers * limit
    work = cells * sum(kind.count + len(kind.others) for kind in kinds)
    most = min(tuning.most_work_on_sums, deadline.remaining * tuning.work_on_sums_a_second)
    # To pick blocks, a bit is kept for each of them and each sum.
    held = cells * tuning.bytes_a_sum + work // 8
    return work <= most and cells <= tuning.most_sums and held <= deadline.memory.left


def nothing(layers: int, limit: int, most: int = 0) -> Counts:
    """The sums up to ``limit`` of no blocks, with fewer than so many ``layers`` wear blocks.

    ``most`` is how many blocks may be counted; above 250, cells are larger.
    """
    many = most >= NONE
    counts: Counts = np.full((layers, limit + 1), NONE, np.uint8)
    if many:
        counts = np.full((layers, limit + 1), _NONE_OF_MANY, np.uint16)
    counts[0, 0] = 0
    return counts


def put(counts: Counts, kind: Kind) -> None:
    """Let each sum have one more block, of that kind."""
    # Sums of one dimension are handled in two thirds of the time.
    own: Counts = counts[0] if len(counts) == 1 else counts
    if kind.is_wear:
        _put(counts[1:], counts[:-1], kind.size)
        return
    joined = own.copy() if kind.others else own
    for size in (kind.size, *kind.others):
        _put(own, joined, size)


def _put(own: Counts, joined: Counts, size: int) -> None:
    """Let these cells have one more block of that size, put onto those stacks.

    A shifted copy is made before anything is written: no sum gets the block twice.
    """
    if 0 < size < own.shape[-1]:
        above = own[..., size:]
        np.minimum(above, joined[..., :-size] + 1, out=above)


def put_all(counts: Counts, kinds: Iterable[Kind], deadline: Deadline) -> Counts:
    """The same array, with every block of the kinds put.

    Raises:
        OutOfTimeError: the deadline passed.
    """
    for kind in kinds:
        for _ in range(kind.count):
            if deadline.passed:
                raise OutOfTimeError
            put(counts, kind)
    return counts


def least_counts(kinds: Sequence[Kind], layers: int, limit: int) -> Counts:
    """The sums of all blocks of the kinds; see `most_of` for those that none have."""
    counts = nothing(layers, limit, _fitting(kinds, limit))
    for _, size, own, joined in _each(counts, kinds):
        _put(own, joined, size)
    return counts


def _each(counts: Counts, kinds: Sequence[Kind]) -> Iterator[tuple[Kind, int, Counts, Counts]]:
    """Each block and size, the cells that it may lower, and those of the stacks that it joins.

    Wear blocks are last, so that each layer has all sums without them when it is begun.
    """
    whole, live = counts[0], 1
    for kind in sorted(kinds, key=lambda kind: kind.is_wear):
        for _ in range(kind.count):
            if kind.is_wear:
                live = min(live + 1, len(counts))
                yield kind, kind.size, counts[1:live], counts[: live - 1]
                continue
            joined = whole.copy() if kind.others else whole
            for size in (kind.size, *kind.others):
                yield kind, size, whole, joined


def _fitting(kinds: Sequence[Kind], limit: int) -> int:
    """As many blocks as a sum may have."""
    fitting, room = 0, limit
    for kind in sorted(kinds, key=lambda each: each.size):
        count = min(kind.count, room // kind.size) if kind.size else 0
        fitting, room = fitting + count, room - count * kind.size
    return fitting


def most_of(counts: Counts, most: int | None) -> int:
    """The limit itself, or one that every sum keeps to that some blocks have, and no other."""
    none = NONE if counts.dtype == np.uint8 else _NONE_OF_MANY
    return none - 1 if most is None else min(most, none - 1)


def pick(
    kinds: Sequence[Kind], counts: Counts, layer: int, total: int
) -> tuple[tuple[Kind, int], ...]:
    """The fewest blocks that add up to ``total`` in that layer, which some of them must.

    Of each, its kind and its size. ``counts`` are the least ones of all sums up to it.
    """
    fewest = counts[layer, total]

    def may_be_of_them(kind: Kind) -> bool:
        """Whether what is left beside it takes one block less, at least with all of the kinds."""
        row = layer - kind.is_wear
        rests = (total - size for size in (kind.size, *kind.others) if size <= total)
        return row >= 0 and any(counts[row, rest] < fewest for rest in rests)

    # Mostly few are left, and the sums of these take a tenth of the time.
    kinds = [kind for kind in kinds if may_be_of_them(kind)]
    own_counts = nothing(layer + 1, total, _fitting(kinds, total))
    # By block and size, a bit for each cell from the first on that it made smaller.
    lowered: list[tuple[Kind, int, npt.NDArray[np.uint8]]] = []
    for kind, size, own, joined in _each(own_counts, kinds):
        if 0 < size <= total:
            above, raised = own[..., size:], joined[..., :-size] + 1
            lowered.append((kind, size, np.packbits(raised < above, bitorder="little")))
            np.minimum(above, raised, out=above)
    found: list[tuple[Kind, int]] = []
    for kind, size, bits in reversed(lowered):
        row, rest = layer - kind.is_wear, total - size
        place = row * (total + 1 - size) + rest
        known = row >= 0 and rest >= 0 and place < 8 * len(bits)
        # A step block has one of its sizes: the last one that made the cell smaller.
        used = bool(kind.others and found and found[-1][0] is kind)
        if known and not used and bits[place // 8] >> place % 8 & 1:
            found.append((kind, size))
            layer, total = row, rest
    return tuple(found)


def least_within(counts: Counts, cells: int) -> Counts:
    """Of each sum the least of the numbers of it and the next ones, ``cells`` in all, at least 1.

    The last sums, which have fewer after them, are left out.
    """
    done = 1
    while done < cells:
        step = min(done, cells - done)
        least: Counts = np.minimum(counts[:-step], counts[step:])
        counts = least
        done += step
    return counts


def reached(sizes: Iterable[int], limit: int) -> Reached:
    """Which sums up to ``limit`` some of the sizes have."""
    bits, mask = 1, (1 << limit + 1) - 1
    for size in sizes:
        if size <= limit:  # a longer shift takes room before its mask
            bits |= (bits << size) & mask
    octets = np.frombuffer(bits.to_bytes(limit // 8 + 1, "little"), np.uint8)
    found: Reached = np.unpackbits(octets, bitorder="little")[: limit + 1].astype(np.bool_)
    return found


def as_bits(mask: npt.NDArray[np.bool_]) -> Bits:
    """The places where the mask is set, as a set of sums."""
    return int.from_bytes(np.packbits(mask, bitorder="little").tobytes(), "little")
