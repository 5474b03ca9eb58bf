"""ISO 286-1: limits of size from a nominal size to 3150 mm and a tolerance class such as H7.

Capital letters are for internal sizes (holes, slots, keyways), small ones for external sizes
(shafts, keys): A to ZC, a to zc, in IT01 to IT18 as far as the standard gives them.
"""

import re
from typing import Final

from msgspec import Struct

from wrung.checked_types import typed
from wrung.errors import InputError
from wrung.fits.iso286_gaps import LARGE, LAST_LIFTED, SMALL, gap, lifted
from wrung.fits.iso286_tables import COARSEST, IT01, tables
from wrung.fits.limits import SizeLimits
from wrung.lengths import mm, to_text, um

LARGEST: Final = mm("3150")
_CLASS: Final = re.compile(r"([A-Z]{1,2}|[a-z]{1,2})(01|0|[1-9][0-9]?)")
_CLEARANCE: Final = frozenset({"a", "b", "c", "cd", "d", "e", "ef", "f", "fg", "g", "h"})
_SYMMETRICAL: Final = "js"
_AROUND: Final = "j"
_K_RAISED: Final = range(4, 8)


class ToleranceClass(Struct, frozen=True, kw_only=True):
    """A tolerance class: letter of the fundamental deviation, and standard tolerance grade.

    The grade is 0 to 18, and -1 stands for IT01.
    """

    letter: str
    grade: int

    @property
    def name(self) -> str:
        """As it is written."""
        return f"{self.letter}{'01' if self.grade == IT01 else self.grade}"

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
    grade = int(found[2]) if found else 0
    if not found or found[1].lower() not in _letters() or grade > COARSEST:
        detail = (
            f"no tolerance class {text[:20]!r}: a letter of {' '.join(_letters())}, small for "
            "external sizes or capital for internal ones, with a grade of 01 to 18"
        )
        raise InputError.at("", detail)
    return ToleranceClass(letter=found[1], grade=IT01 if found[2] == "01" else grade)


@typed
def limits(nominal: int, text: str) -> SizeLimits:
    """The limits of size.

    Args:
        nominal: nominal size, quanta; over 0, up to 3150 mm.
        text: tolerance class.

    Raises:
        InputError: at ``/nominal`` or ``/tolerance_class``, the standard gives none.
    """
    try:
        wanted = tolerance_class(text)
    except InputError as error:
        raise error.all_at("/tolerance_class") from None
    if not 0 < nominal <= LARGEST:
        detail = f"ISO 286 has classes for sizes to 3150 mm, not {to_text(nominal, 'mm')} mm"
        raise InputError.at("/nominal", detail)
    if missing := gap(wanted.letter, wanted.grade, nominal):
        detail = f"ISO 286 has no {text} of {to_text(nominal, 'mm')} mm: {missing}"
        raise InputError.at("/tolerance_class", detail)
    return _limits(nominal, wanted)


@typed
def standard_tolerance(nominal: int, grade: int) -> int:
    """The tolerance IT ``grade`` of a nominal size, quanta.

    Args:
        nominal: nominal size, quanta; over 0, up to 3150 mm.
        grade: 0 to 18; -1 for IT01.

    Raises:
        InputError: at ``/grade`` or ``/nominal``, the standard gives none.
    """
    if not IT01 <= grade <= COARSEST:
        raise InputError.at("/grade", "a grade is -1 for IT01, or 0 to 18")
    found = tables().tolerance(nominal, grade) if nominal > 0 else None
    if found is None:
        detail = f"ISO 286 has no such tolerance for {to_text(nominal, 'mm')} mm"
        raise InputError.at("/nominal", detail)
    return found


def _letters() -> list[str]:
    return sorted([*tables().letters, _AROUND, _SYMMETRICAL])


def _limits(nominal: int, wanted: ToleranceClass) -> SizeLimits:
    tolerance = standard_tolerance(nominal, wanted.grade)
    # The other deviation always follows from the tolerance, so the lower one is enough.
    if wanted.letter.lower() == _SYMMETRICAL:
        lower = -tolerance // 2
    elif wanted.letter.lower() == _AROUND:
        lower = _around(nominal, wanted, tolerance)
    elif wanted.internal:
        lower = _hole(nominal, wanted, tolerance)
    else:
        lower = _shaft(nominal, wanted, tolerance)
    return SizeLimits(nominal=nominal, lower_deviation=lower, upper_deviation=lower + tolerance)


def _around(nominal: int, wanted: ToleranceClass, tolerance: int) -> int:
    row = tables().around(wanted.name)
    nearer = (row.at(nominal) if row else None) or 0
    # The printed deviation of J is its upper one, that of j its lower one.
    return nearer - tolerance if wanted.internal else nearer


def _shaft(nominal: int, wanted: ToleranceClass, tolerance: int) -> int:
    """Lower deviation of a shaft."""
    distance = _distance(nominal, wanted.letter)
    if wanted.letter in _CLEARANCE:
        return -distance - tolerance
    # The standard lifts k off zero in IT4 to IT7 only.
    return 0 if wanted.letter == "k" and wanted.grade not in _K_RAISED else distance


def _hole(nominal: int, wanted: ToleranceClass, tolerance: int) -> int:
    """Lower deviation of a hole."""
    letter = wanted.letter.lower()
    distance = _distance(nominal, letter)
    if letter in _CLEARANCE:
        return distance
    # The standard's one exception for M6; the rule would give -11 µm.
    if wanted.name == "M6" and mm("250") < nominal <= mm("315"):
        return um("-9") - tolerance
    # Over 3 mm the upper deviation of N9 and coarser is zero, whatever n has.
    if letter == "n" and wanted.grade > LAST_LIFTED["n"] and SMALL < nominal <= LARGE:
        return -tolerance
    return _delta(nominal, wanted) - distance - tolerance


def _delta(nominal: int, wanted: ToleranceClass) -> int:
    """What lifts fine holes, so that hole and shaft of one fit have the same interference."""
    if not lifted(wanted.letter, wanted.grade, nominal):
        return 0
    # Delta is IT(n) - IT(n-1): a hole is usually paired with a shaft one grade finer.
    finer = standard_tolerance(nominal, wanted.grade - 1)
    return standard_tolerance(nominal, wanted.grade) - finer


def _distance(nominal: int, letter: str) -> int:
    return tables().distance(letter).at(nominal) or 0
