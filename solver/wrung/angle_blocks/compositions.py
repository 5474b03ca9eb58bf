"""Sets of angle gauge blocks as they are delivered, and the limits of their grades."""

from decimal import Decimal
from functools import cache

from msgspec import Struct, field

from wrung.angles import DEGREE, MINUTE, SECOND, angle
from wrung.names import named
from wrung.real import nearest
from wrung.tables import Sourced, load


class AngleComposition(Sourced, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A set of angle blocks, as it is printed.

    Attributes:
        id: what requests call it.
        name: what it is, in words.
        degrees: blocks of whole degrees; ``minutes`` and ``seconds`` likewise.
        reach: all its blocks together, in words.
        limit_seconds: how much one block may be wrong by, in seconds.
    """

    id: str
    name: str
    degrees: list[int]
    minutes: list[int]
    seconds: list[int]
    reach: str
    limit_seconds: Decimal = field(name="limit")

    def __post_init__(self) -> None:
        """Refuse a set whose blocks do not add up to its stated reach."""
        if sum(self.nominals) != angle(self.reach):
            raise ValueError(f"the blocks of {self.id} do not add up to {self.reach}")

    @property
    def nominals(self) -> tuple[int, ...]:
        """Nominal angles, largest first, quanta of 1e-9 seconds."""
        sizes = ((self.degrees, DEGREE), (self.minutes, MINUTE), (self.seconds, SECOND))
        return tuple(sorted((n * size for group, size in sizes for n in group), reverse=True))

    @property
    def limit(self) -> int:
        """How much one block may be wrong by, quanta of 1e-9 seconds."""
        return nearest(self.limit_seconds * SECOND)


def all_angle_compositions() -> tuple[AngleComposition, ...]:
    """Every set known."""
    return tuple(_compositions().values())


def angle_composition(composition_id: str) -> AngleComposition:
    """The set of that id.

    Raises:
        InputError: at ``/composition``, there is none.
    """
    return named(_compositions(), composition_id, "set of angle blocks", "/composition")


class AngleGrade(Sourced, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A grade of angle blocks; ``limit_seconds`` is what one block may be off, in seconds."""

    id: str
    limit_seconds: Decimal = field(name="limit")

    @property
    def limit(self) -> int:
        """The same in quanta of 1e-9 seconds."""
        return nearest(self.limit_seconds * SECOND)


def angle_grade(grade: str) -> AngleGrade:
    """The grade of that id.

    Raises:
        InputError: at ``/grade``, there is none.
    """
    grades = {row.id: row for row in _tables().grades}
    return named(grades, grade, "grade of angle blocks", "/grade")


class _Tables(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    compositions: list[AngleComposition]
    grades: list[AngleGrade]


@cache
def _tables() -> _Tables:
    return load("angle_blocks.toml", _Tables)


def _compositions() -> dict[str, AngleComposition]:
    return {each.id: each for each in _tables().compositions}
