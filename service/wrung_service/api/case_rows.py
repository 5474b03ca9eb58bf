"""A set as it lies in its case: a row a decade, a column a last figure."""

from collections.abc import Iterable, Iterator
from typing import Final, TypeAlias

from wrung.compositions import Composition, Series

Row: TypeAlias = tuple[int, ...]

WIDEST: Final = 10
"""Blocks in a row, at most."""


def case_rows(known: Composition) -> tuple[Row, ...]:
    """The nominal lengths of a set, row by row; a length stands as often as there are blocks."""
    return tuple(_joined(row for series in known.series for row in _rows(series)))


def _rows(series: Series) -> Iterator[Row]:
    """A row ends where the last figure is a nought."""
    row: Row = ()
    for nominal in series.nominals():
        row += (nominal,)
        if series.step and nominal // series.step % WIDEST == 0:
            yield row
            row = ()
    if row:
        yield row


def _joined(rows: Iterable[Row]) -> Iterator[Row]:
    """Single blocks that follow one another share a row."""
    waiting: Row = ()
    for row in rows:
        if len(row) == 1 and len(waiting) < WIDEST:
            waiting += row
            continue
        if waiting:
            yield waiting
        waiting = row if len(row) == 1 else ()
        if len(row) > 1:
            yield row
    if waiting:
        yield waiting
