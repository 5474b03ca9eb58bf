"""What free pieces add up to, a few at a time: tables that serve one question after another.

A table is one number with a row of bits for each count of pieces, set where at most that many
pieces add up to the sum. A further piece is one shift of all rows: up by one row, and on by its
length. The number before each piece is kept, so that the pieces of a sum can be traced back. Of
81 blocks, a table and a stack from it take 0.04 ms, the counts of `subset_sums` and `pick` 0.5 ms
(CPU time, 2026-11-29).
"""

from collections.abc import Callable, Iterable, Mapping
from functools import cached_property, lru_cache
from math import gcd
from typing import TypeAlias

from msgspec import Struct

from wrung.planning.building.fine import Fine
from wrung.planning.problem import Problem
from wrung.tuning import Tuning

Mask: TypeAlias = int
"""Pieces, as the bits of a number; 0 is no stack."""

_Sized: TypeAlias = tuple[Mask, int]
"""A piece, and its length in steps."""


class _Table(Struct, frozen=True, kw_only=True):
    """Pieces, and the sums of none, of the first one, two and so on."""

    pieces: list[_Sized]
    sums: list[int]


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


def by_length(problem: Problem, *, wear: bool = False) -> dict[int, Mask]:
    """By nominal length, the pieces that may stand anywhere in a stack, or else the wear pieces."""
    found: dict[int, Mask] = {}
    for index, piece in enumerate(problem.pieces):
        if piece.wear == wear and not piece.step:
            found[piece.nominal] = found.get(piece.nominal, 0) | 1 << index
    return found


class CoarseTables:
    """What the free ones of the pieces without a fine length add up to.

    Attributes:
        bits: of one table.
    """

    def __init__(
        self, problem: Problem, pieces: Mapping[int, Mask], fine: Fine | None, tuning: Tuning
    ) -> None:
        """``pieces`` are by nominal length."""
        # A window may lie below every block, even below zero.
        longest = max(0, *(demand.high for demand in problem.demands))
        coarse = {
            nominal: own
            for nominal, own in pieces.items()
            if own and nominal <= longest and (fine is None or nominal % fine.step == 0)
        }
        self._step = gcd(*coarse) or max(longest, 1)
        most = max(tuning.most_sizes // max(len(coarse), 1), 1)
        # Of each length in steps, its pieces, and the most of them that one stack may hold. Long
        # ones first: a table is read from its end, and leaves out what it can.
        self._lengths = [
            (size, [(1 << piece, size) for piece in as_pieces(own)], min(own.bit_count(), most))
            for size, own in sorted(
                ((n // self._step, own) for n, own in coarse.items()), reverse=True
            )
        ]
        self._every = sum(coarse.values())
        self._counts, self._width = tuning.most_coarse + 1, longest // self._step + 1
        rows = sum(most for _, _, most in self._lengths) + 1
        self.bits = rows * self._counts * self._width
        self._most_kept = max(tuning.kept_coarse_bits // self.bits, 1)

    def completed(self, low: int, high: int, begun: Mask, taken: Mask) -> Mask:
        """These pieces and as few others as are ``low..high`` long, quanta; 0 if none are."""
        first, last = max(-(-low // self._step), 0), high // self._step
        if first > last:
            return 0
        table, sums = self._table(self._every & ~taken), (1 << last - first + 1) - 1
        for count in range(self._counts):
            if within := table.sums[-1] >> count * self._width + first & sums:
                total = first + (within & -within).bit_length() - 1
                return begun | self._back(table, count, total)
        return 0

    @cached_property
    def _table(self) -> Callable[[Mask], _Table]:
        """The table of pieces that are free; some are kept."""
        lengths, width = self._lengths, self._width
        nothing = sum(1 << width * count for count in range(self._counts))
        # What a piece can be added to: sums beyond the end must not run over into the next row.
        fewer = nothing >> width
        below = [(fewer << width - size) - fewer for size, _, _ in lengths]

        def filled(free: Mask) -> _Table:
            pieces: list[_Sized] = []
            reached, sums = nothing, [nothing]
            for (size, own, most), fits in zip(lengths, below, strict=True):
                left = most
                # Pairs made anew for each table would double the time, for collecting them as
                # garbage.
                for piece in own:
                    if left and piece[0] & free:
                        reached |= (reached & fits) << width + size
                        sums.append(reached)
                        pieces.append(piece)
                        left -= 1
            return _Table(pieces=pieces, sums=sums)

        # It does not refer to the tables, which would then only be freed as garbage.
        return lru_cache(self._most_kept)(filled)

    def _back(self, table: _Table, count: int, total: int) -> Mask:
        """So many pieces that add up to the total."""
        pieces, sums = table.pieces, table.sums
        picked, place = 0, len(pieces)
        while total:
            place -= 1
            # Left out where those before it do without.
            if not sums[place] >> count * self._width + total & 1:
                piece, size = pieces[place]
                picked |= piece
                count, total = count - 1, total - size
        return picked
