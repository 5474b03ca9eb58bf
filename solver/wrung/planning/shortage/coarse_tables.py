"""What free pieces add up to, a few at a time: tables that serve one question after another.

A table is one number with a row of bits for each count of pieces, set where at most so many add up
to that sum. A further piece is one shift of all rows: up by one row, and on by its length. What the
number was before each piece is kept, which tells the way back to the pieces of a sum.
"""

from collections import OrderedDict
from collections.abc import Collection, Sequence
from math import gcd
from typing import Final, TypeAlias

from msgspec import Struct

from wrung.planning.problem import Problem
from wrung.planning.shortage.places import Place

Mask: TypeAlias = int
"""Pieces, as the bits of a number; 0 is no stack."""

_MOST_COARSE: Final = 6
"""Pieces of a stack beside the fine ones."""
_MOST_BITS: Final = 60_000_000
"""Of a table: some milliseconds and 8 MB."""
_KEPT_BITS: Final = 120_000_000
"""Of all tables that are kept."""


def as_mask(pieces: Sequence[int]) -> Mask:
    """Indexes of pieces as bits."""
    return sum(1 << piece for piece in pieces)


class CoarseTables:
    """What the free ones of the pieces without a fine length add up to."""

    def __init__(self, problem: Problem, pieces: Sequence[int], step: int, end: int) -> None:
        self._problem = problem
        self._step = step
        # Long ones first: a table is read from its end, and leaves out what it can.
        ordered = sorted(pieces, key=lambda piece: -problem.pieces[piece].nominal)
        self._sizes = [(k, problem.pieces[k].nominal // step) for k in ordered]
        self._all = as_mask(pieces)
        self._rows = _rows({size for _, size in self._sizes}, end)
        self.bits = _bits(len(pieces), end)
        self._most_kept = max(_KEPT_BITS // self.bits, 1)
        self._kept: OrderedDict[Mask, _Table] = OrderedDict()

    def completed(self, demand: int, fine: Mask, length: int, taken: Mask) -> Mask:
        """The fine pieces of that length and as few others as serve the demand; 0 if none do."""
        wanted = self._problem.demands[demand]
        low, high = max(wanted.low, 1) - length, wanted.high - length
        # The end is that of the longest demand, so no row ends within the window.
        first, last = max(-(-low // self._step), 0), high // self._step
        if first > last:
            return 0
        found = self._table(taken & self._all).pick(first, last)
        return 0 if found is None else fine | found

    def _table(self, taken: Mask) -> "_Table":
        table = self._kept.pop(taken, None)
        if table is None:
            free = [(piece, size) for piece, size in self._sizes if not taken >> piece & 1]
            table = _Table(free, self._rows)
            # The one not used for longest makes room.
            if len(self._kept) == self._most_kept:
                self._kept.popitem(last=False)
        self._kept[taken] = table
        return table


class _Rows(Struct, frozen=True, kw_only=True):
    """How the sums of at most none, one, two and more pieces lie side by side in one number.

    Attributes:
        width: bits of each.
        first: the sum of nothing, in all of them.
        below: by size, the sums that a piece of it can be added to, with one piece less.
    """

    width: int
    first: int
    below: dict[int, int]


def _rows(sizes: Collection[int], end: int) -> _Rows:
    width, counts = end + 1, range(_MOST_COARSE + 1)
    first = sum(1 << width * count for count in counts)
    fewer = first >> width
    return _Rows(
        width=width,
        first=first,
        # What would be longer than the end must not run over into the next row.
        below={size: fewer * ((1 << width - size) - 1) for size in sizes},
    )


class _Table:
    """The sums of the first piece, of the first two, and so on."""

    def __init__(self, sizes: Sequence[tuple[int, int]], rows: _Rows) -> None:
        self._sizes = sizes
        self._width = rows.width
        reached, self._reached = rows.first, [rows.first]
        for _, size in sizes:
            reached |= (reached & rows.below[size]) << rows.width + size
            self._reached.append(reached)

    def pick(self, first: int, last: int) -> Mask | None:
        """As few pieces as bring the sum to ``first..last``."""
        wanted = (1 << last - first + 1) - 1
        for count in range(_MOST_COARSE + 1):
            within = self._reached[-1] >> count * self._width + first & wanted
            if within:
                return self._back(count, first + (within & -within).bit_length() - 1)
        return None

    def _back(self, count: int, total: int) -> Mask:
        picked, place = 0, len(self._sizes)
        while total:
            place -= 1
            # Left out where those before it do without.
            if not self._reached[place] >> count * self._width + total & 1:
                piece, size = self._sizes[place]
                picked |= 1 << piece
                count, total = count - 1, total - size
        return picked


def _bits(pieces: int, end: int) -> int:
    """Of a table of so many pieces, up to that sum."""
    return (pieces + 1) * (_MOST_COARSE + 1) * (end + 1)


def coarse_tables(problem: Problem, place: Place | None) -> CoarseTables | None:
    """None where a table would take too much room."""
    longest = max(demand.high for demand in problem.demands)
    coarse = [
        index
        for index, piece in enumerate(problem.pieces)
        if not piece.wear
        and piece.nominal <= longest
        and (place is None or piece.nominal % place.step == 0)
    ]
    step = gcd(*(problem.pieces[piece].nominal for piece in coarse)) or longest
    end = longest // step
    affordable = _bits(len(coarse), end) <= _MOST_BITS
    return CoarseTables(problem, coarse, step, end) if affordable else None
