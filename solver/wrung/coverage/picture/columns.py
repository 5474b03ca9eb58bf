"""The grid in rows of columns, as many as can be told apart on a page, and marks on its axis."""

from collections import Counter
from collections.abc import Iterator, Sequence
from typing import Final

from msgspec import Struct

from wrung.coverage.answer import LengthGrid
from wrung.lengths import QUANTA, Unit

_MOST_ROWS: Final = 6
_COLUMNS: Final = 83
"""Columns of 4 px in a row."""
_FULL_ROW: Final = 60
"""Points for which one row is enough."""
_MOST_MARKS: Final = 4
_ROUND: Final = (1, 2, 5)


class Column(Struct, frozen=True, kw_only=True):
    """Adjacent points, and how many of them need so many blocks; 0 blocks where none do.

    ``start`` and ``end`` count points from the beginning of the row.
    """

    start: int
    end: int
    needed: dict[int, int]

    @property
    def points(self) -> int:
        """How many points it stands for."""
        return self.end - self.start


class GridRow(Struct, frozen=True, kw_only=True):
    """A part of the grid; ``width`` points have room in it, the last row may hold fewer."""

    first: int
    last: int
    width: int
    columns: tuple[Column, ...]


def grid_rows(grid: LengthGrid, fewest: bytes) -> Iterator[GridRow]:
    """The grid in rows of equal scale; ``fewest`` as in `wrung.coverage.Reach`."""
    count = len(fewest)
    # Rounded up in both, so that rows and columns always have room for every point.
    width = -(-count // min(_MOST_ROWS, -(-count // _FULL_ROW)))
    each = -(-width // _COLUMNS)
    for start in range(0, count, width):
        part = fewest[start : start + width]
        yield GridRow(
            first=grid.points[start],
            last=grid.points[start + len(part) - 1],
            width=width,
            columns=tuple(_columns(part, each)),
        )


def _columns(part: bytes, each: int) -> Iterator[Column]:
    for start in range(0, len(part), each):
        inside = part[start : start + each]
        yield Column(start=start, end=start + len(inside), needed=dict(Counter(inside)))


def marks(first: int, last: int, span: int, unit: Unit) -> Sequence[int]:
    """Round lengths from first to last, quanta, about four in a ``span``; first if there are none.

    The span is that of the longest row, so that all rows of a drawing have the same marks.
    """
    step = _step(span, unit)
    found = range(-(-first // step) * step, last + 1, step)
    return found if len(found) > 0 else (first,)


def _step(span: int, unit: Unit) -> int:
    """The least of 1, 2, 5, 10, .. times a decimal part of the unit that makes few enough marks."""
    size = QUANTA[unit]
    while size % 10 == 0 and size * _MOST_MARKS > span:
        size //= 10
    while True:
        for times in _ROUND:
            if size * times * _MOST_MARKS >= span:
                return size * times
        size *= 10
