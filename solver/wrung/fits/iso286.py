"""ISO 286-1: limits of size from a nominal size to 500 mm and a tolerance class such as H7.

Capital letters are for internal sizes (holes, slots, keyways), small ones for external sizes
(shafts, keys). The classes D to H with EF and FG, J, JS, K, M, N, P, and d to p likewise, in IT1
to IT16 as far as the standard gives them.
"""

import re
from bisect import bisect_left
from functools import cache
from typing import Final

from msgspec import Struct

from wrung.checked_types import typed
from wrung.errors import Fault, InputError
from wrung.fits.limits import SizeLimits
from wrung.lengths import mm, to_text, um
from wrung.tables import Checked, load

LARGEST: Final = mm("500")
_CLASS: Final = re.compile(r"([A-Z]{1,2}|[a-z]{1,2})([1-9][0-9]?)")
_CLEARANCE: Final = frozenset({"d", "e", "ef", "f", "fg", "g", "h"})
_SYMMETRICAL: Final = "js"
_AROUND: Final = "j"
_ONE_MM: Final = mm("1")
_FIRST_RANGE: Final = mm("3")
_LAST_LIFTED: Final = {"k": 8, "m": 8, "n": 8, "p": 7}
"""Up to these grades holes are lifted by delta; coarser ones follow a plainer rule."""
_COARSE: Final = 14
_FINEST: Final = 3


class ToleranceClass(Struct, frozen=True, kw_only=True):
    """A tolerance class: letter of the fundamental deviation, and standard tolerance grade."""

    letter: str
    grade: int

    @property
    def name(self) -> str:
        """As it is written."""
        return f"{self.letter}{self.grade}"

    @property
    def internal(self) -> bool:
        """Whether it is for holes and slots."""
        return self.letter.isupper()


@typed
def tolerance_class(text: str) -> ToleranceClass:
    """Read a class such as ``"H7"`` or ``"js6"``.

    Raises:
        InputError: it is none that is known; the pointer is empty.
    """
    found = _CLASS.fullmatch(text)
    if not found or not _known(found[1], int(found[2])):
        letters = " ".join([*_table().letter_names, _AROUND, _SYMMETRICAL])
        raise InputError(
            [
                Fault(
                    pointer="",
                    detail=f"no tolerance class {text[:20]!r}: a letter of {letters}, small for "
                    "external sizes or capital for internal ones, with a grade of 1 to 16",
                )
            ]
        )
    return ToleranceClass(letter=found[1], grade=int(found[2]))


@typed
def limits(nominal: int, text: str) -> SizeLimits:
    """The limits of size.

    Args:
        nominal: nominal size, quanta; over 0, up to 500 mm.
        text: tolerance class.

    Raises:
        InputError: at ``/nominal`` or ``/tolerance_class``, the standard gives none.
    """
    try:
        wanted = tolerance_class(text)
    except InputError as error:
        detail = error.faults[0].detail
        raise InputError([Fault(pointer="/tolerance_class", detail=detail)]) from None
    if not 0 < nominal <= LARGEST:
        detail = f"ISO 286 has classes here for sizes to 500 mm, not {to_text(nominal, 'mm')} mm"
        raise InputError([Fault(pointer="/nominal", detail=detail)])
    if refusal := _refusal(wanted, nominal):
        raise InputError([Fault(pointer="/tolerance_class", detail=f"{text}: {refusal}")])
    return _limits(nominal, wanted)


@typed
def standard_tolerance(nominal: int, grade: int) -> int:
    """The tolerance IT ``grade`` (1 to 16) of a nominal size, quanta."""
    table = _table()
    return table.grade(grade)[table.range(nominal)]


def _limits(nominal: int, wanted: ToleranceClass) -> SizeLimits:
    tolerance = standard_tolerance(nominal, wanted.grade)
    # The other deviation always follows from the tolerance, so the lower one is enough.
    if wanted.letter.lower() == _SYMMETRICAL:
        lower = -tolerance // 2
    elif wanted.letter.lower() == _AROUND:
        nearer = _around(nominal, wanted) or 0
        # The printed deviation of J is its upper one, that of j its lower one.
        lower = nearer - tolerance if wanted.internal else nearer
    elif wanted.internal:
        lower = _hole(nominal, wanted, tolerance)
    else:
        lower = _shaft(nominal, wanted, tolerance)
    return SizeLimits(nominal=nominal, lower_deviation=lower, upper_deviation=lower + tolerance)


def _shaft(nominal: int, wanted: ToleranceClass, tolerance: int) -> int:
    """Lower deviation of a shaft."""
    distance = _distance(nominal, wanted.letter)
    if wanted.letter in _CLEARANCE:
        return -distance - tolerance
    # The standard lifts k off zero in IT4 to IT7 only.
    if wanted.letter == "k" and wanted.grade not in range(4, 8):
        return 0
    return distance


def _hole(nominal: int, wanted: ToleranceClass, tolerance: int) -> int:
    """Lower deviation of a hole."""
    letter = wanted.letter.lower()
    distance = _distance(nominal, letter)
    if letter in _CLEARANCE:
        return distance
    # The standard's one exception for M6; the rule would give -11 µm.
    if (letter, wanted.grade) == ("m", 6) and mm("250") < nominal <= mm("315"):
        return um("-9") - tolerance
    # Over 3 mm the upper deviation of N9 and coarser is zero, whatever n has.
    if letter == "n" and wanted.grade > _LAST_LIFTED["n"] and nominal > _FIRST_RANGE:
        return -tolerance
    return _delta(nominal, wanted) - distance - tolerance


def _delta(nominal: int, wanted: ToleranceClass) -> int:
    """What lifts fine holes, so that hole and shaft of one fit have the same interference."""
    grade = wanted.grade
    if nominal <= _FIRST_RANGE or grade > _LAST_LIFTED[wanted.letter.lower()]:
        return 0
    # Delta is IT(n) - IT(n-1): a hole is usually paired with a shaft one grade finer.
    return standard_tolerance(nominal, grade) - standard_tolerance(nominal, grade - 1)


def _refusal(wanted: ToleranceClass, nominal: int) -> str | None:
    """Why the standard has no such class for this size."""
    letter = wanted.letter
    if letter.lower() == _AROUND:
        given = _around(nominal, wanted) is not None
        return None if given else "J is given in grades 6 to 8, j in 5 to 7, and j8 up to 3 mm"
    if letter.lower() in _table().letter_names and _given(nominal, letter.lower()) is None:
        return "this letter is given for sizes to 10 mm"
    return _refused_grade(wanted, nominal)


def _refused_grade(wanted: ToleranceClass, nominal: int) -> str | None:
    letter, grade = wanted.letter, wanted.grade
    if grade >= _COARSE and nominal <= _ONE_MM:
        return "IT14 to IT16 are not used for sizes to 1 mm"
    if letter == "N" and grade > _LAST_LIFTED["n"] and nominal <= _ONE_MM:
        return "N above grade 8 is not used for sizes to 1 mm"
    if letter == "K" and grade > _LAST_LIFTED["k"] and nominal > _FIRST_RANGE:
        return "K above grade 8 is not given for sizes over 3 mm"
    # Finer than grade 3 the standard's corrections of these holes are not given.
    lifted = wanted.internal and letter.lower() in _LAST_LIFTED and nominal > _FIRST_RANGE
    if lifted and grade < _FINEST:
        return f"over 3 mm this letter is given from grade {_FINEST} on"
    return None


def _known(letter: str, grade: int) -> bool:
    table = _table()
    letters = {*table.letter_names, _AROUND, _SYMMETRICAL}
    return letter.lower() in letters and 1 <= grade <= len(table.grades)


def _distance(nominal: int, letter: str) -> int:
    return _given(nominal, letter) or 0


def _given(nominal: int, letter: str) -> int | None:
    table = _table()
    return table.distances(letter)[table.range(nominal)]


def _around(nominal: int, wanted: ToleranceClass) -> int | None:
    """The deviation nearer to the nominal size, of a class that has its own."""
    table = _table()
    values = table.around.get(wanted.name)
    return None if values is None else values[table.range(nominal)]


class _Grade(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    grade: int
    values: list[str]


class _Letter(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    letter: str
    values: list[str]


class _Around(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    name: str
    values: list[str]


class _Printed(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    source: str
    checked: Checked
    up_to: list[str]
    grades: list[_Grade]
    letters: list[_Letter]
    around: list[_Around]

    def __post_init__(self) -> None:
        """Refuse a table with a value too few or too many."""
        rows = [row.values for part in (self.grades, self.letters, self.around) for row in part]
        if any(len(row) != len(self.up_to) for row in rows):
            raise ValueError("a row of ISO 286 has not one value a range")


class _Table:
    """The standard's tables in quanta."""

    def __init__(self, printed: _Printed) -> None:
        self._edges = [mm(edge) for edge in printed.up_to]
        self.grades = {row.grade: [um(each) for each in row.values] for row in printed.grades}
        self._letters = {row.letter: _values(row.values) for row in printed.letters}
        self.around = {row.name: _values(row.values) for row in printed.around}

    @property
    def letter_names(self) -> tuple[str, ...]:
        return tuple(self._letters)

    def range(self, nominal: int) -> int:
        # Ranges are over, up to and including: an edge belongs to the range below it.
        return bisect_left(self._edges, nominal)

    def grade(self, grade: int) -> list[int]:
        return self.grades[grade]

    def distances(self, letter: str) -> list[int | None]:
        return self._letters[letter]


def _values(printed: list[str]) -> list[int | None]:
    return [um(each) if each else None for each in printed]


@cache
def _table() -> _Table:
    return _Table(load("iso286.toml", _Printed))
