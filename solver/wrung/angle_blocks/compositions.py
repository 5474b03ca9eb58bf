"""Sets of angle gauge blocks as they are delivered, and the limits of their grades."""

from decimal import Decimal
from functools import cache

from msgspec import Struct

from wrung.angles import DEGREE, MINUTE, SECOND, angle
from wrung.names import named
from wrung.real import nearest
from wrung.tables import Checked, load


class AngleComposition(Struct, frozen=True, kw_only=True):
    """A set of angle blocks. Angles in quanta of 1e-9 seconds.

    Attributes:
        id: what requests call it.
        name: what it is, in words.
        nominals: nominal angles, largest first.
        limit: how much one block may be wrong by.
        source: where the figures come from.
        checked: how far they were compared with print, see `wrung.tables.Checked`.
    """

    id: str
    name: str
    nominals: tuple[int, ...]
    limit: int
    source: str
    checked: Checked


def all_angle_compositions() -> tuple[AngleComposition, ...]:
    """Every set known."""
    return tuple(_compositions().values())


def angle_composition(composition_id: str) -> AngleComposition:
    """The set of that id.

    Raises:
        InputError: at ``/composition``, there is none.
    """
    return named(_compositions(), composition_id, "set of angle blocks", "/composition")


class AngleGrade(Struct, frozen=True, kw_only=True):
    """A grade of angle blocks; ``limit`` is what one block may be off, quanta of 1e-9 seconds."""

    id: str
    limit: int
    source: str
    checked: Checked


def angle_grade(grade: str) -> AngleGrade:
    """The grade of that id.

    Raises:
        InputError: at ``/grade``, there is none.
    """
    grades = {row.id: row for row in _printed().grades}
    row = named(grades, grade, "grade of angle blocks", "/grade")
    # Limits are printed as decimals of a second, such as 0.25, and kept as whole quanta.
    limit = nearest(Decimal(row.limit) * SECOND)
    return AngleGrade(id=row.id, limit=limit, source=row.source, checked=row.checked)


class _Printed(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    id: str
    name: str
    degrees: list[int]
    minutes: list[int]
    seconds: list[int]
    reach: str
    limit: str
    checked: Checked
    source: str

    def nominals(self) -> tuple[int, ...]:
        sizes = ((self.degrees, DEGREE), (self.minutes, MINUTE), (self.seconds, SECOND))
        return tuple(sorted((n * size for group, size in sizes for n in group), reverse=True))

    def __post_init__(self) -> None:
        """Refuse a set whose blocks do not add up to its stated reach."""
        if sum(self.nominals()) != angle(self.reach):
            raise ValueError(f"the blocks of {self.id} do not add up to {self.reach}")


class _Grade(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    id: str
    limit: str
    checked: Checked
    source: str


class _Tables(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    compositions: list[_Printed]
    grades: list[_Grade]


@cache
def _printed() -> _Tables:
    return load("angle_blocks.toml", _Tables)


@cache
def _compositions() -> dict[str, AngleComposition]:
    return {
        printed.id: AngleComposition(
            id=printed.id,
            name=printed.name,
            nominals=printed.nominals(),
            limit=nearest(Decimal(printed.limit) * SECOND),
            source=printed.source,
            checked=printed.checked,
        )
        for printed in _printed().compositions
    }
