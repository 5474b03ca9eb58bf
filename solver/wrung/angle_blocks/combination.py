"""Which angle blocks to use, each adding or subtracting, for an angle: proven fewest blocks.

The set is halved. Every sum of signed blocks of either half is listed once, with its fewest blocks;
a wanted angle is a sum of the one half and a sum of the other, so all combinations are looked at
without being written down. 16 blocks have 43 million combinations, and twice 6561 sums.
"""

from bisect import bisect_left
from collections.abc import Iterator, Sequence
from functools import lru_cache
from typing import Final, TypeAlias

from msgspec import Struct

MOST_BLOCKS: Final = 20
"""Twice 59 049 sums; sets have 16 blocks at most."""

Angles: TypeAlias = tuple[int, ...]
_Signs: TypeAlias = tuple[int, ...]
"""For each block 1 where it adds, -1 where it subtracts, 0 where it is not used."""


class Combination(Struct, frozen=True, kw_only=True):
    """Blocks and the angle they give.

    Attributes:
        adding: nominal angles of the blocks that add, largest first.
        subtracting: of those that subtract.
        total: the angle.
    """

    adding: Angles
    subtracting: Angles
    total: int


class Search(Struct, frozen=True, kw_only=True):
    """The best combination within the window, and the nearest angles outside it."""

    best: Combination | None
    below: Combination | None
    above: Combination | None


def search(nominals: Sequence[int], wanted: int, within: int, most: int | None = None) -> Search:
    """Fewest blocks for an angle; of as many the nearest to it.

    Args:
        nominals: nominal angles of the blocks; at most `MOST_BLOCKS` of them.
        wanted: the angle.
        within: how far off the angle of the combination may be.
        most: most blocks to use.
    """
    nominals = tuple(nominals)
    allowed = len(nominals) if most is None else most
    inside = _inside(nominals, wanted, within, allowed)
    below = above = None
    if inside is None:
        below = _nearest(nominals, wanted - within, allowed, -1)
        above = _nearest(nominals, wanted + within, allowed, 1)
    return Search(best=inside, below=below, above=above)


def _inside(nominals: Angles, wanted: int, within: int, most: int) -> Combination | None:
    left, right = _halves(nominals)
    low, high = wanted - within, wanted + within
    found = min(
        (
            (count + each_count, abs(total + each - wanted), signs + each_signs, total + each)
            for total, count, signs in left.rows()
            for each, each_count, each_signs in right.between(low - total, high - total)
            if count + each_count <= most
        ),
        default=None,
    )
    return None if found is None else _combination(nominals, found[2])


def _nearest(nominals: Angles, wanted: int, most: int, side: int) -> Combination | None:
    """The nearest combination at or beyond an angle on one side; of as near the fewest blocks."""
    left, right = _halves(nominals)
    found = min(
        (
            (abs(total + each - wanted), count + each_count, signs + each_signs, total + each)
            for total, count, signs in left.rows()
            for each, each_count, each_signs in right.beyond(wanted - total, side, most - count)
        ),
        default=None,
    )
    return None if found is None or found[3] < 0 else _combination(nominals, found[2])


def _combination(nominals: Angles, signs: _Signs) -> Combination:
    by_half = nominals[::2] + nominals[1::2]
    adding, subtracting = (
        tuple(sorted((n for n, s in zip(by_half, signs, strict=True) if s == sign), reverse=True))
        for sign in (1, -1)
    )
    return Combination(adding=adding, subtracting=subtracting, total=sum(adding) - sum(subtracting))


_Row: TypeAlias = tuple[int, int, _Signs]
"""A sum, its fewest blocks, and their signs."""


class _Half:
    """Every sum of one half of the blocks, ascending, each by its fewest blocks."""

    def __init__(self, nominals: Angles) -> None:
        sums: dict[int, tuple[int, _Signs]] = {0: (0, ())}
        for nominal in nominals:
            grown: dict[int, tuple[int, _Signs]] = {}
            for total, (count, signs) in sums.items():
                for sign in (0, 1, -1):
                    row = (count + abs(sign), (*signs, sign))
                    key = total + sign * nominal
                    grown[key] = min(row, grown.get(key, row))
            sums = grown
        self._sums = sorted(sums)
        self._rows = [(total, *sums[total]) for total in self._sums]

    def rows(self) -> Sequence[_Row]:
        return self._rows

    def between(self, low: int, high: int) -> Iterator[_Row]:
        for place in range(bisect_left(self._sums, low), len(self._sums)):
            if self._sums[place] > high:
                return
            yield self._rows[place]

    def beyond(self, edge: int, side: int, most: int) -> Iterator[_Row]:
        """The first row at or beyond the edge that has few enough blocks."""
        place = bisect_left(self._sums, edge)
        if side < 0 and not (place < len(self._sums) and self._sums[place] == edge):
            place -= 1
        while 0 <= place < len(self._sums):
            if self._rows[place][1] <= most:
                yield self._rows[place]
                return
            place += side


@lru_cache(maxsize=16)
def _halves(nominals: Angles) -> tuple[_Half, _Half]:
    # Every other block, so that both halves reach about as far.
    return _Half(nominals[::2]), _Half(nominals[1::2])
