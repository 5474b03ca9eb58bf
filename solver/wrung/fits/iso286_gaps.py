"""What ISO 286-1 leaves out: classes that it does not give for a size, and why."""

from collections.abc import Iterator
from typing import Final

from wrung.fits.iso286_tables import IT01, tables
from wrung.lengths import mm, to_text

SMALL: Final = mm("3")
"""Up to this size, holes are the mirror of shafts in every grade."""
LARGE: Final = mm("500")
"""Over this size they are again, and fewer letters and grades are given."""
LAST_LIFTED: Final = {"k": 8, "m": 8, "n": 8} | dict.fromkeys(
    ("p", "r", "s", "t", "u", "v", "x", "y", "z", "za", "zb", "zc"), 7
)
"""Up to these grades holes are lifted by delta; coarser ones follow a plainer rule."""
_ONE_MM: Final = mm("1")
_COARSE: Final = 14
_FINEST_LIFTED: Final = 3


def lifted(letter: str, grade: int, nominal: int) -> bool:
    """Whether a hole of the letter is lifted by delta."""
    return SMALL < nominal <= LARGE and grade <= LAST_LIFTED.get(letter.lower(), IT01 - 1)


def gap(letter: str, grade: int, nominal: int) -> str | None:
    """Why the standard has no such class for this size; None if it has."""
    return next(_gaps(letter, grade, nominal), None)


def _gaps(letter: str, grade: int, nominal: int) -> Iterator[str]:
    if letter.lower() == "j":
        around = tables().around(f"{letter}{grade}")
        if around is None or around.at(nominal) is None:
            yield "J is given in grades 6 to 8, j in 5 to 7, to 500 mm, and j8 to 3 mm"
    elif letter.lower() != "js":
        yield from _missing_letter(letter.lower(), nominal)
    if grade >= _COARSE and nominal <= _ONE_MM:
        yield "IT14 to IT18 are not used for sizes to 1 mm"
    if tables().tolerance(nominal, grade) is None:
        yield "IT01 and IT0 are given for sizes to 500 mm"
    yield from _missing_hole(letter, grade, nominal)


def _missing_letter(letter: str, nominal: int) -> Iterator[str]:
    row = tables().distance(letter)
    low, high = row.span
    low = max(low, _ONE_MM) if letter in {"a", "b"} else low
    if nominal <= low:
        yield f"this letter is given for sizes over {to_text(low, 'mm')} mm"
    if nominal > high:
        yield f"this letter is given for sizes to {to_text(high, 'mm')} mm"


def _missing_hole(letter: str, grade: int, nominal: int) -> Iterator[str]:
    if letter == "N" and grade > LAST_LIFTED["n"] and nominal <= _ONE_MM:
        yield "N above grade 8 is not used for sizes to 1 mm"
    if letter == "K" and grade > LAST_LIFTED["k"] and nominal > SMALL:
        yield "K above grade 8 is not given for sizes over 3 mm"
    # Finer than grade 3 the standard's corrections of these holes are not given.
    if letter.isupper() and grade < _FINEST_LIFTED and lifted(letter, grade, nominal):
        yield f"over 3 mm, up to 500 mm, this letter is given from grade {_FINEST_LIFTED} on"
