"""Exact lengths: whole numbers of 0.01 nm, read from decimal text and written back without loss.

One quantum of 0.01 nm makes every inch and metric nominal, and every certificate figure in nm or
0.1 µin, a whole number. 1 in = 25.4 mm exactly (the international inch).
"""

import re
from typing import Final, Literal, TypeAlias

from wrung.errors import LengthError

Unit: TypeAlias = Literal["mm", "in"]
SmallUnit: TypeAlias = Literal["um", "uin"]
AnyUnit: TypeAlias = Unit | SmallUnit

SMALL_UNIT: Final[dict[Unit, SmallUnit]] = {"mm": "um", "in": "uin"}
QUANTA: Final[dict[AnyUnit, int]] = {"mm": 10**8, "in": 2_540_000_000, "um": 10**5, "uin": 2_540}
LONGEST: Final = 10 * 1000 * QUANTA["mm"]
"""The longest length that is read, 10 m: ten times the longest block of ISO 3650."""

DECIMAL_PATTERN: Final = r"-?(0|[1-9][0-9]{0,11})(\.[0-9]{1,12})?"
_DECIMAL: Final = re.compile(DECIMAL_PATTERN)
# Enough digits that the nearest quantum can be told from the text, where the text cannot be exact.
_ROUNDED_DIGITS: Final[dict[AnyUnit, int]] = {"mm": 8, "in": 10, "um": 5, "uin": 4}


def parse(text: str, unit: AnyUnit, *, signed: bool = False) -> int:
    """Read decimal text as quanta of 0.01 nm.

    Args:
        text: plain decimal text such as ``"12.3455"``; no exponent, no sign unless ``signed``.
        unit: unit of the text: ``"mm"``, ``"in"``, ``"um"`` or ``"uin"``.
        signed: whether a negative value makes sense (a deviation, a tolerance).

    Raises:
        LengthError: not plain decimal text, negative, beyond 10 m, or finer than 0.01 nm.
    """
    if not _DECIMAL.fullmatch(text):
        raise LengthError(
            f"{text[:40]!r} is not plain decimal text such as '12.3455' (at most 12 digits a side)"
        )
    whole, _, decimals = text.partition(".")
    scale: int = 10 ** len(decimals)
    # Whole numbers all the way: a float has no exact 0.1, and errors would add up in sums.
    quanta, rest = divmod(int(whole + decimals) * QUANTA[unit], scale)
    if rest:
        # Not rounded: a length changed in silence would be wrong in every sum.
        raise LengthError(f"{text} {unit} is finer than the resolution of 0.01 nm")
    if quanta < 0 and not signed:
        raise LengthError(f"{text} {unit} is negative")
    if abs(quanta) > LONGEST:
        raise LengthError(f"{text} {unit} is beyond the longest length of 10 m")
    return quanta


def mm(text: str) -> int:
    """Quanta of a length in millimetres, ``mm("1.0005")``. Raises LengthError as `parse`."""
    return parse(text, "mm", signed=True)


def inch(text: str) -> int:
    """Quanta of a length in inches, ``inch("0.1001")``. Raises LengthError as `parse`."""
    return parse(text, "in", signed=True)


def um(text: str) -> int:
    """Quanta of a deviation in micrometres, ``um("-0.12")``. Raises LengthError as `parse`."""
    return parse(text, "um", signed=True)


def uin(text: str) -> int:
    """Quanta of a deviation in microinches, ``uin("2.5")``. Raises LengthError as `parse`."""
    return parse(text, "uin", signed=True)


def to_text(quanta: int, unit: AnyUnit) -> str:
    """Write quanta as decimal text without trailing zeros.

    The text is exact wherever the value has an exact decimal text in the unit. A metric value in
    inches may have none; then 10 decimals of an inch (4 of a µin) are given, enough to find the
    quantum again by rounding.
    """
    places, size = _ROUNDED_DIGITS[unit], QUANTA[unit]
    scale: int = 10**places
    # No quantum lies half-way between two texts, so any rounding to the nearest is the same.
    nearest = (2 * abs(quanta) * scale + size) // (2 * size)
    whole, decimals = divmod(nearest, scale)
    text = f"{whole}.{decimals:0{places}d}".rstrip("0").rstrip(".")
    return f"-{text}" if quanta < 0 else text
