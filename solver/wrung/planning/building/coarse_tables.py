"""What free pieces add up to, a few at a time: tables that serve one question after another.

A table is one number with a row of bits for each count of pieces, set where at most that many
pieces add up to the sum. A further piece is one shift of all rows: up by one row, and on by its
length. The number before each piece is kept, so that the pieces of a sum can be traced back.
"""

from collections import OrderedDict
from collections.abc import Iterable, Sequence
from math import gcd, prod
from typing import TypeAlias

from msgspec import Struct

from wrung.planning.building.fine import Fine
from wrung.planning.problem import Problem
from wrung.tuning import TUNING, Tuning

Mask: TypeAlias = int
"""Pieces, as the bits of a number; 0 is no stack."""


class _Table(Struct, frozen=True, kw_only=True):
    """Pieces with their lengths in steps; the sums of none, of the first one, two and so on."""

    pieces: Sequence[tuple[Mask, int]]
    sums: Sequence[int]


class _Length(Struct, frozen=True, kw_only=True):
    """A length in steps, each piece that has it, and the most of them that one stack may hold."""

    size: int
    each: tuple[tuple[Mask, int], ...]
    most: int


def as_mask(pieces: Iterable[int]) -> Mask:
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


class CoarseTables:
    """What the free ones of the pieces without a fine length add up to.

    Args:
        problem: of the demands.
        lengths: of these pieces.
        step: what the lengths are multiples of, quanta.
        shape: how many rows a table has, and bits in each.
        most_kept: how many tables.
    """

    def __init__(
        self,
        problem: Problem,
        lengths: Sequence[_Length],
        step: int,
        shape: tuple[int, int],
        most_kept: int,
    ) -> None:
        self._problem, self._lengths, self._step = problem, lengths, step
        self._counts, self._width = shape
        self._every = sum(piece for own in lengths for piece, _ in own.each)
        self._nothing = sum(1 << self._width * count for count in range(self._counts))
        fewer = self._nothing >> self._width
        # What a piece can be added to: sums beyond the end must not run over into the next row.
        self._below = [(fewer << self._width - own.size) - fewer for own in lengths]
        self.bits = _bits(lengths, shape)
        self._most_kept = most_kept
        self._kept: OrderedDict[Mask, _Table] = OrderedDict()

    def completed(self, demand: int, fine: Mask, length: int, taken: Mask) -> Mask:
        """The fine pieces of that length and as few others as serve the demand; 0 if none do."""
        wanted, step = self._problem.demands[demand], self._step
        low, high = max(wanted.low, 1) - length, wanted.high - length
        first, last = max(-(-low // step), 0), high // step
        if first > last:
            return 0
        found = self._fewest(self._table(self._every & ~taken), first, last)
        return 0 if found is None else fine | found

    def _table(self, free: Mask) -> _Table:
        table = self._kept.pop(free, None)
        if table is None:
            table = self._filled(free)
            # The least recently used one makes room.
            if len(self._kept) == self._most_kept:
                self._kept.popitem(last=False)
        self._kept[free] = table
        return table

    def _filled(self, free: Mask) -> _Table:
        pieces: list[tuple[Mask, int]] = []
        reached, sums = self._nothing, [self._nothing]
        for own, below in zip(self._lengths, self._below, strict=True):
            left = own.most
            # Pairs made anew for each table would double the time, for collecting them as garbage.
            for piece in own.each:
                if left and piece[0] & free:
                    reached |= (reached & below) << self._width + own.size
                    sums.append(reached)
                    pieces.append(piece)
                    left -= 1
        return _Table(pieces=pieces, sums=sums)

    def _fewest(self, table: _Table, first: int, last: int) -> Mask | None:
        """The fewest pieces that bring the sum to ``first..last``; None if none do."""
        reached, wanted = table.sums[-1], (1 << last - first + 1) - 1
        for count in range(self._counts):
            if within := reached >> count * self._width + first & wanted:
                return self._back(table, count, first + (within & -within).bit_length() - 1)
        return None

    def _back(self, table: _Table, count: int, total: int) -> Mask:
        picked, place = 0, len(table.pieces)
        while total:
            place -= 1
            # Left out where those before it do without.
            if not table.sums[place] >> count * self._width + total & 1:
                piece, size = table.pieces[place]
                picked |= piece
                count, total = count - 1, total - size
        return picked


def coarse_tables(
    problem: Problem, fine: Fine | None, tuning: Tuning = TUNING
) -> CoarseTables | None:
    """None where a table would take too much room."""
    # A window may lie below every block, even below zero.
    longest = max(0, *(demand.high for demand in problem.demands))
    by_nominal: dict[int, Mask] = {}
    for index, piece in enumerate(problem.pieces):
        coarse = fine is None or piece.nominal % fine.step == 0
        if coarse and not (piece.wear or piece.step) and piece.nominal <= longest:
            by_nominal[piece.nominal] = by_nominal.get(piece.nominal, 0) | 1 << index
    step = gcd(*by_nominal) or max(longest, 1)
    most = max(tuning.most_sizes // max(len(by_nominal), 1), 1)
    lengths = [
        _Length(
            size=nominal // step,
            each=tuple((1 << piece, nominal // step) for piece in as_pieces(own)),
            most=min(own.bit_count(), most),
        )
        # Long ones first: a table is read from its end, and leaves out what it can.
        for nominal, own in sorted(by_nominal.items(), reverse=True)
    ]
    shape = (tuning.most_coarse + 1, longest // step + 1)
    # Asked before any is made, as lengths without a common step would fill the memory.
    if (bits := _bits(lengths, shape)) > tuning.most_coarse_bits:
        return None
    most_kept = max(tuning.kept_coarse_bits // bits, 1)
    return CoarseTables(problem, lengths, step, shape, most_kept)


def _bits(lengths: Sequence[_Length], shape: tuple[int, int]) -> int:
    """Of a table of these."""
    return (sum(own.most for own in lengths) + 1) * prod(shape)
