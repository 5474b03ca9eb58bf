"""The sets of the shelf as they lie in their cases."""

from collections import Counter

from msgspec import Struct

from wrung.compositions import composition
from wrung.errors import InputError
from wrung.lengths import to_text
from wrung.stack_drawing.lettering import engraved
from wrung_service.api.bench.question import Question, ShelfSet
from wrung_service.api.case_rows import case_rows


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

    @property
    def longest(self) -> int:
        """Of its figures, in characters."""
        return max((len(cell.figure) for row in self.rows for cell in row), default=0)


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
    for row in case_rows(known):
        cells: list[Cell] = []
        for nominal in row:
            seen[nominal] += 1
            label = to_text(nominal, known.unit)
            name = f"{each.id}/{label}" + (f"#{seen[nominal]}" if seen[nominal] > 1 else "")
            figure = engraved(nominal, known.unit, decimal_mark)
            cells.append(Cell(id=name, figure=figure, gone=name in gone))
        rows.append(tuple(cells))
    return Case(set=each, name=known.name, rows=tuple(rows))
