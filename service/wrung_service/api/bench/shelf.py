"""A set as it lies in its case: a row a decade, a column a last figure."""

from collections import Counter
from collections.abc import Iterator
from typing import Final

from msgspec import Struct

from wrung.compositions import Series, composition
from wrung.errors import InputError
from wrung.lengths import to_text
from wrung.stack_drawing.lettering import engraved
from wrung_service.api.bench.question import Question, ShelfSet

_WIDEST: Final = 10


class Cell(Struct, frozen=True, kw_only=True):
    """A block in its case: its id, the figure on it, and whether it is not there."""

    id: str
    figure: str
    gone: bool


class Case(Struct, frozen=True, kw_only=True):
    """A set, row by row; without rows if nobody knows such a set."""

    set: ShelfSet
    name: str
    rows: tuple[tuple[Cell, ...], ...]

    @property
    def gone(self) -> int:
        """How many are not there."""
        return sum(cell.gone for row in self.rows for cell in row)


def cases(question: Question, decimal_mark: str) -> tuple[Case, ...]:
    """Every set of the shelf."""
    return tuple(_case(each, frozenset(question.gone), decimal_mark) for each in question.sets)


def _case(each: ShelfSet, gone: frozenset[str], decimal_mark: str) -> Case:
    try:
        known = composition(each.composition)
    except InputError:
        return Case(set=each, name=each.composition, rows=())
    seen: Counter[int] = Counter()
    rows: list[tuple[Cell, ...]] = []
    for row in (row for series in known.series for row in _rows(series)):
        cells: list[Cell] = []
        for nominal in row:
            seen[nominal] += 1
            label = to_text(nominal, known.unit)
            name = f"{each.id}/{label}" + (f"#{seen[nominal]}" if seen[nominal] > 1 else "")
            figure = engraved(nominal, known.unit, decimal_mark)
            cells.append(Cell(id=name, figure=figure, gone=name in gone))
        rows.append(tuple(cells))
    return Case(set=each, name=known.name, rows=tuple(_joined(rows)))


def _rows(series: Series) -> Iterator[list[int]]:
    """A row ends where the last figure is a nought."""
    row: list[int] = []
    for nominal in series.nominals():
        row.append(nominal)
        if series.step and nominal // series.step % _WIDEST == 0:
            yield row
            row = []
    if row:
        yield row


def _joined(rows: list[tuple[Cell, ...]]) -> Iterator[tuple[Cell, ...]]:
    """Single blocks that follow one another share a row."""
    waiting: tuple[Cell, ...] = ()
    for row in rows:
        if len(row) == 1 and len(waiting) < _WIDEST:
            waiting += row
            continue
        if waiting:
            yield waiting
        waiting = row if len(row) == 1 else ()
        if len(row) > 1:
            yield row
    if waiting:
        yield waiting
