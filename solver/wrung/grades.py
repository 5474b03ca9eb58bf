"""Grades: how much a block's length may differ from its nominal length, by nominal length.

A grade's name is resolved by the unit the block is marked in, as the standards do: ``"2"`` on a
metric block is grade 2 of ISO 3650, on an inch block the older federal grade 2. ASME B89.1.9 asks
for the prefix AS where its own grades 1 and 2 are meant, to keep the three apart.
"""

from bisect import bisect_left
from functools import cache
from typing import Final, Literal, get_args

from msgspec import Struct, field

from wrung.checked_types import refuse_wrong
from wrung.errors import InputError
from wrung.lengths import SMALL_UNIT, Unit, parse, to_text
from wrung.names import or_nearest
from wrung.tables import Sourced, load

_MARKED: Final[dict[Unit, str]] = {"mm": "millimetres", "in": "inches"}


class Limits(Struct, frozen=True, kw_only=True):
    """Limits of the deviation from nominal, quanta; ``lower`` is negative or 0."""

    upper: int
    lower: int


class GradeRow(Struct, frozen=True, kw_only=True):
    """What a grade allows for one range of nominal lengths. All lengths in quanta of 0.01 nm.

    Attributes:
        over: the range starts above this length; the first range of a grade includes it.
        up_to: the last length of the range.
        plus: how far a block may be over its nominal length.
        minus: how far under it, as a positive length.
        variation: tolerance of the variation in length; None where the table gives none.
        doubt: what speaks against the figures of this row; None if nothing is known.
    """

    over: int
    up_to: int
    plus: int
    minus: int
    variation: int | None = None
    doubt: str | None = None

    @property
    def limit_deviation(self) -> int:
        """The larger of both limits."""
        return max(self.plus, self.minus)


class Grade(Sourced, frozen=True, kw_only=True):
    """A grade of one standard, for blocks marked in one unit.

    Attributes:
        id: unit and name, such as ``"mm-0"`` or ``"in-AS-1"``.
        name: what blocks and sets call it: ``"0"``, ``"AS-1"``.
        unit: unit that the blocks are marked in.
        standard: the standard that sets it.
        rows: ascending ranges without gaps.
    """

    id: str
    name: str
    unit: Unit
    standard: str
    rows: tuple[GradeRow, ...]

    @property
    def title(self) -> str:
        """Its name, with what tells it from others of that name."""
        return f"{self.name} ({self.standard}, {self.unit})"

    def covers(self, nominal: int) -> bool:
        """Whether the grade has limits for that nominal length."""
        return self.rows[0].over <= nominal <= self.rows[-1].up_to

    def row(self, nominal: int) -> GradeRow:
        """The row for a nominal length, quanta.

        Raises:
            InputError: at ``/nominal``, the grade has no limits for it.
        """
        if type(nominal) is not int:
            refuse_wrong(limits, {"nominal": nominal})
        if not self.covers(nominal):
            raise InputError.at("/nominal", self.refusal(nominal))
        # Ranges are over, up to and including: 10 mm is still in the first (ISO 3650).
        return self.rows[bisect_left(self.rows, nominal, key=lambda row: row.up_to)]

    def refusal(self, nominal: int) -> str:
        """The sentence that says why a nominal length has no limits."""
        first, last = (to_text(end, self.unit) for end in (self.rows[0].over, self.rows[-1].up_to))
        return (
            f"grade {self.name} of {self.standard} has limits for {first} to {last} {self.unit}, "
            f"not for {to_text(nominal, self.unit)} {self.unit}"
        )


def all_grades() -> tuple[Grade, ...]:
    """Every grade known, metric first, as the tables list them."""
    return tuple(_grades().values())


def grade(name: str, unit: Unit) -> Grade:
    """The grade of that name, or of that id, for blocks marked in ``unit``.

    Raises:
        InputError: at ``/grade``, there is none.
    """
    if type(name) is not str or unit not in get_args(Unit):
        refuse_wrong(grade, {"name": name, "unit": unit})
    of_id = (each for each in _grades().values() if each.id == name)
    found = _grades().get((unit, name)) or next(of_id, None)
    if found is not None and found.unit == unit:
        return found
    known = [known for of, known in _grades() if of == unit]
    detail = f"no grade {name!r} for blocks marked in {_MARKED[unit]}"
    if found is not None:
        detail = f"grade {name} is for blocks marked in {_MARKED[found.unit]}, not {_MARKED[unit]}"
    detail += f"{or_nearest(name, known)}; there are {', '.join(known)}"
    raise InputError.at("/grade", detail)


def limits(name: str, nominal: int, unit: Unit) -> Limits:
    """Limits of the deviation, quanta, of a block of that grade, nominal length and unit.

    Raises:
        InputError: at ``/grade`` or ``/nominal``, no table covers it.
    """
    row = grade(name, unit).row(nominal)
    return Limits(upper=row.plus, lower=-row.minus)


class _Column(Sourced, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A grade as the table prints it: one figure a range, in the small unit.

    Fewer figures than ranges mean that the longest blocks are not made in that grade. Doubts stand
    by the upper end of their range.
    """

    name: str
    plus: list[str]
    minus: list[str] | None = None
    variation: list[str] | None = None
    doubts: dict[str, str] = field(default_factory=dict[str, str])

    def __post_init__(self) -> None:
        lengths = {len(figures) for figures in (self.plus, self.minus, self.variation) if figures}
        if len(lengths) != 1:
            raise ValueError(f"the figures of grade {self.name} are not equally many")


class _Table(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One printed table: the ranges of nominal length, and a column a grade."""

    standard: str
    unit: Unit
    lowest: str
    up_to: list[str]
    grades: list[_Column]


@cache
def _grades() -> dict[tuple[Unit, str], Grade]:
    tables = load("grades.toml", dict[Literal["tables"], list[_Table]])["tables"]
    return {
        (table.unit, column.name): _grade(table, column)
        for table in tables
        for column in table.grades
    }


def _grade(table: _Table, column: _Column) -> Grade:
    return Grade(
        id=f"{table.unit}-{column.name}",
        name=column.name,
        unit=table.unit,
        standard=table.standard,
        source=column.source,
        checked=column.checked,
        rows=_rows(table, column),
    )


def _rows(table: _Table, column: _Column) -> tuple[GradeRow, ...]:
    edges = [parse(edge, table.unit) for edge in (table.lowest, *table.up_to)]
    small = SMALL_UNIT[table.unit]
    return tuple(
        GradeRow(
            over=edges[index],
            up_to=edges[index + 1],
            plus=parse(plus, small),
            # Only the older federal grades have unequal limits; the others are printed once.
            minus=parse(column.minus[index] if column.minus else plus, small),
            variation=parse(column.variation[index], small) if column.variation else None,
            doubt=column.doubts.get(table.up_to[index]),
        )
        for index, plus in enumerate(column.plus)
    )
