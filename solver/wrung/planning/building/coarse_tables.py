"""What free pieces add up to, a few at a time: tables that serve one question after another.

A table is one number with a row of bits for each count of pieces, set where at most that many
pieces add up to the sum. A further piece is one shift of all rows: up by one row, and on by its
length. The number before each piece is kept, so that the pieces of a sum can be traced back.
"""

from collections import Counter, OrderedDict
from collections.abc import Collection, Sequence
from itertools import chain, repeat
from math import gcd
from typing import TypeAlias

from msgspec import Struct

from wrung.planning.building.fine import Fine
from wrung.planning.problem import Problem
from wrung.tuning import TUNING, Tuning

Mask: TypeAlias = int
"""Pieces, as the bits of a number; 0 is no stack."""


class _Length(Struct, frozen=True, kw_only=True):
    """A length in steps, the pieces that have it, and the most of them that one stack may hold."""

    size: int
    pieces: Mask
    most: int


def as_mask(pieces: Sequence[int]) -> Mask:
    """Indexes of pieces as bits."""
    return sum(1 << piece for piece in pieces)


def as_pieces(mask: Mask) -> tuple[int, ...]:
    """The indexes again, ascending; finding a few of many pieces does not look at each."""
    found: list[int] = []
    while mask:
        lowest = mask & -mask
        found.append(lowest.bit_length() - 1)
        mask ^= lowest
    return tuple(found)


def first_pieces(mask: Mask, count: int) -> Mask:
    """The first so many of these pieces."""
    rest = mask
    for _ in range(count):
        rest &= rest - 1
    return mask ^ rest


class CoarseTables:
    """What the free ones of the pieces without a fine length add up to."""

    def __init__(
        self, problem: Problem, lengths: Sequence[_Length], rows: "_Rows", kept_bits: int
    ) -> None:
        self._problem = problem
        self._lengths = lengths
        self._rows = rows
        self._sizes = [(number, own.size) for number, own in enumerate(lengths)]
        single = all(own.pieces.bit_count() == 1 for own in lengths)
        # Most shelves are a single set, where each length is either taken or not.
        self._single = [own.pieces for own in lengths] if single else []
        self.bits = _bits(lengths, rows.width, rows.counts)
        self._most_kept = max(kept_bits // self.bits, 1)
        self._kept: OrderedDict[bytes, _Table] = OrderedDict()

    def completed(self, demand: int, fine: Mask, length: int, taken: Mask) -> Mask:
        """The fine pieces of that length and as few others as serve the demand; 0 if none do."""
        wanted, step = self._problem.demands[demand], self._rows.step
        low, high = max(wanted.low, 1) - length, wanted.high - length
        # The rows reach the end of the longest demand, so no row ends within the window.
        first, last = max(-(-low // step), 0), high // step
        if first > last:
            return 0
        found = self._table(taken).pick(first, last)
        return 0 if found is None else fine | self._pieces(found, taken)

    def _pieces(self, counts: Counter[int], taken: Mask) -> Mask:
        """For each length, that many pieces that are not taken."""
        picked = 0
        for number, count in counts.items():
            picked |= first_pieces(self._lengths[number].pieces & ~taken, count)
        return picked

    def _table(self, taken: Mask) -> "_Table":
        free = self._free(taken)
        table = self._kept.pop(free, None)
        if table is None:
            table = _Table(list(chain(*map(repeat, self._sizes, free))), self._rows)
            # The least recently used one makes room.
            if len(self._kept) == self._most_kept:
                self._kept.popitem(last=False)
        self._kept[free] = table
        return table

    def _free(self, taken: Mask) -> bytes:
        """How many pieces of each length are available."""
        if self._single:
            return bytes([not taken & own for own in self._single])
        return bytes(min((own.pieces & ~taken).bit_count(), own.most) for own in self._lengths)


class _Rows(Struct, frozen=True, kw_only=True):
    """How the sums of at most none, one, two and more pieces lie side by side in one number.

    Attributes:
        step: what the lengths are multiples of, quanta.
        counts: how many rows there are.
        width: bits of each.
        first: the sum of nothing, in all of them.
        below: by size, the sums that a piece of it can be added to, with one piece less.
    """

    step: int
    counts: int
    width: int
    first: int
    below: dict[int, int]


def _rows(sizes: Collection[int], step: int, end: int, counts: int) -> _Rows:
    width = end + 1
    first = sum(1 << width * count for count in range(counts))
    fewer = first >> width
    return _Rows(
        step=step,
        counts=counts,
        width=width,
        first=first,
        # Sums beyond the end must not run over into the next row.
        below={size: (fewer << width - size) - fewer for size in sizes},
    )


class _Table:
    """The sums of the first piece, of the first two, and so on; each has a number and a size."""

    def __init__(self, sizes: Sequence[tuple[int, int]], rows: _Rows) -> None:
        self._sizes = sizes
        self._width = rows.width
        self._counts = rows.counts
        reached, self._reached = rows.first, [rows.first]
        for _, size in sizes:
            reached |= (reached & rows.below[size]) << rows.width + size
            self._reached.append(reached)

    def pick(self, first: int, last: int) -> Counter[int] | None:
        """The fewest pieces that bring the sum to ``first..last``, by length; None if none do."""
        wanted = (1 << last - first + 1) - 1
        for count in range(self._counts):
            within = self._reached[-1] >> count * self._width + first & wanted
            if within:
                return self._back(count, first + (within & -within).bit_length() - 1)
        return None

    def _back(self, count: int, total: int) -> Counter[int]:
        picked: Counter[int] = Counter()
        place = len(self._sizes)
        while total:
            place -= 1
            # Left out where those before it do without.
            if not self._reached[place] >> count * self._width + total & 1:
                number, size = self._sizes[place]
                picked[number] += 1
                count, total = count - 1, total - size
        return picked


def _bits(lengths: Sequence[_Length], width: int, counts: int) -> int:
    """Of a table of these."""
    return (sum(own.most for own in lengths) + 1) * counts * width


def coarse_tables(
    problem: Problem, fine: Fine | None, tuning: Tuning = TUNING
) -> CoarseTables | None:
    """None where a table would take too much room."""
    counts = tuning.most_coarse + 1
    # A window may lie below every block, even below zero.
    longest = max(0, *(demand.high for demand in problem.demands))
    by_nominal: dict[int, Mask] = {}
    for index, piece in enumerate(problem.pieces):
        coarse = fine is None or piece.nominal % fine.step == 0
        if coarse and not piece.wear and piece.nominal <= longest:
            by_nominal[piece.nominal] = by_nominal.get(piece.nominal, 0) | 1 << index
    step = gcd(*by_nominal) or max(longest, 1)
    most = max(tuning.most_sizes // max(len(by_nominal), 1), 1)
    lengths = [
        _Length(size=nominal // step, pieces=own, most=min(own.bit_count(), most))
        # Long ones first: a table is read from its end, and leaves out what it can.
        for nominal, own in sorted(by_nominal.items(), reverse=True)
    ]
    # Checked before any table is made, as lengths without a common step would fill the memory.
    if _bits(lengths, longest // step + 1, counts) > tuning.most_coarse_bits:
        return None
    rows = _rows([own.size for own in lengths], step, longest // step, counts)
    return CoarseTables(problem, lengths, rows, tuning.kept_coarse_bits)
