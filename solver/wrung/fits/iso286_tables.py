"""The tables of ISO 286-1: standard tolerances, and how far a letter's zone is from the size."""

from bisect import bisect_left
from functools import cache
from typing import Final

from msgspec import Struct

from wrung.lengths import mm, um
from wrung.tables import Checked, load

IT01: Final = -1
"""The grade IT01, which is finer than IT0, as a whole number."""
COARSEST: Final = 18
_TENFOLD: Final = 12
"""From IT12 on a standard tolerance is ten times the one five grades finer (ISO 286-1)."""
_ENDS: Final = frozenset({"3", "10", "500", "3150"})
_NONE: Final = "-"


class Row(Struct, frozen=True, kw_only=True):
    """Values by range of sizes; all in quanta.

    Attributes:
        edges: upper ends of the ranges.
        values: one a range; None where the standard gives none.
    """

    edges: tuple[int, ...]
    values: tuple[int | None, ...]

    def at(self, nominal: int) -> int | None:
        """The value for a nominal size; None if there is none."""
        # Ranges are over, up to and including: an edge belongs to the range below it.
        place = bisect_left(self.edges, nominal)
        return self.values[place] if place < len(self.values) else None

    @property
    def span(self) -> tuple[int, int]:
        """The sizes that have a value: over the first, up to and including the second."""
        first = next(place for place, value in enumerate(self.values) if value is not None)
        return self.edges[first - 1] if first else 0, self.edges[len(self.values) - 1]


class Tables:
    """The printed tables in quanta."""

    def __init__(self, printed: "_Printed") -> None:
        main, fine = printed.main_ranges.split(), printed.fine_ranges.split()
        self._grades = {_grade(name): _row(main, row) for name, row in printed.grades.items()}
        self._letters = {
            **{name: _row(main, row) for name, row in printed.main.items()},
            **{name: _row(fine, row) for name, row in printed.fine.items()},
        }
        self._around = {name: _row(main, row) for name, row in printed.around.items()}

    @property
    def letters(self) -> tuple[str, ...]:
        """The letters with a distance of their own, as shafts have them."""
        return tuple(self._letters)

    def tolerance(self, nominal: int, grade: int) -> int | None:
        """The standard tolerance; None if there is none for this size."""
        if grade < _TENFOLD:
            return self._grades[grade].at(nominal)
        finer = self.tolerance(nominal, grade - 5)
        return None if finer is None else 10 * finer

    def distance(self, letter: str) -> Row:
        """How far the tolerance zone is from the nominal size, by the small letter."""
        return self._letters[letter]

    def around(self, name: str) -> Row | None:
        """The deviation nearer to the nominal size of a class J or j."""
        return self._around.get(name)


class _Printed(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    source: str
    checked: Checked
    main_ranges: str
    fine_ranges: str
    grades: dict[str, str]
    main: dict[str, str]
    fine: dict[str, str]
    around: dict[str, str]


def _grade(name: str) -> int:
    return IT01 if name == "01" else int(name)


def _row(edges: list[str], printed: str) -> Row:
    values = printed.split()
    # A value too few or too many would shift all after it; the standard's rows end at these sizes.
    if len(values) > len(edges) or edges[len(values) - 1] not in _ENDS:
        raise ValueError(f"a row of ISO 286 has {len(values)} values")
    return Row(
        edges=tuple(map(mm, edges)),
        values=tuple(None if each == _NONE else um(each) for each in values),
    )


@cache
def tables() -> Tables:
    """The tables, read once."""
    return Tables(load("iso286.toml", _Printed))
