"""Exact lengths: whole numbers of 0.01 nm, read from decimal text and written back without loss.

One quantum of 0.01 nm makes every inch and metric nominal, and every certificate figure in nm or
0.1 µin, a whole number. 1 in = 25.4 mm exactly (the international inch).
"""

import re
from collections.abc import Mapping
from typing import Final, Literal, TypeAlias

from wrung.checked_types import refuse_wrong
from wrung.errors import LengthError

Unit: TypeAlias = Literal["mm", "in"]
"""Unit of lengths."""
SmallUnit: TypeAlias = Literal["um", "uin"]
"""Unit of deviations and errors: µm beside mm, µin beside in."""
AnyUnit: TypeAlias = Unit | SmallUnit
"""Either."""

SMALL_UNIT: Final[dict[Unit, SmallUnit]] = {"mm": "um", "in": "uin"}
UNIT_SIGNS: Final[Mapping[str, str]] = {"mm": "mm", "in": "in", "um": "µm", "uin": "µin"}
"""Units of length as they are written."""
QUANTA: Final[dict[AnyUnit, int]] = {"mm": 10**8, "in": 2_540_000_000, "um": 10**5, "uin": 2_540}
# A tuple, in which even what has no hash can be looked for.
_UNITS: Final = tuple(QUANTA)
LONGEST: Final = 10 * 1000 * QUANTA["mm"]
"""The longest length that is read, 10 m: ten times the longest block of ISO 3650."""

_DIGITS: Final = r"([0-9]{1,12}(\.[0-9]{0,12}0{0,20})?|\.[0-9]{1,12}0{0,20})"
_MINUS: Final = "\N{MINUS SIGN}-"
UNSIGNED_PATTERN: Final = rf" *\+?{_DIGITS} *"
SIGNED_PATTERN: Final = rf" *[+{_MINUS}]?{_DIGITS} *"
"""What people type for a decimal: ``12.3455``, ``.375``, ``+0.50``, ``-0.12``; no exponent."""
_SIGNED: Final = re.compile(SIGNED_PATTERN)
_COMMA: Final = re.compile(f"(?:[0-9]|^[ +{_MINUS}]*),[0-9]")
_SHORT_EXPONENT: Final = re.compile(r"(-?)([0-9]{1,17})(?:\.([0-9]{1,17}))?[eE]([+-]?[0-9]{1,2})")
DECIMAL_COMMA: Final = "has a decimal comma; write a decimal point, and nothing between thousands"
"""Why such text is refused; it follows the text or the name of its member."""

# Enough digits that the nearest quantum can be told from the text, where the text cannot be exact.
_ROUNDED_DIGITS: Final[dict[AnyUnit, int]] = {"mm": 8, "in": 10, "um": 5, "uin": 4}


def has_decimal_comma(text: str) -> bool:
    """Whether text has a comma before digits, for a decimal point or between thousands."""
    return bool(_COMMA.search(text))


def plain(text: str) -> str:
    """Decimal text as `parse` takes it, in its plain form: ``.50`` as ``0.50``, ``+1.`` as ``1``.

    Trailing zeros stay, as people know their blocks by them. Other text comes back as it is.
    """
    if not _SIGNED.fullmatch(text):
        return text
    stripped = text.strip(" ")
    whole, point, decimals = stripped.lstrip(f"+{_MINUS}").partition(".")
    sign = "-" if stripped[0] in _MINUS else ""
    return f"{sign}{whole.lstrip('0') or '0'}{point if decimals else ''}{decimals}"


def without_exponent(number: str) -> str:
    """A JSON number of a short exponent, ``2.5e-4``, as plain text; any other as it is.

    Programs write small numbers like this without being asked. Digits are moved, none is rounded.
    """
    found = _SHORT_EXPONENT.fullmatch(number)
    if found is None:
        return number
    sign, whole, decimals, exponent = found[1], found[2], found[3] or "", int(found[4])
    # As many zeros on both sides as the exponent can ask for, then cut where the point goes.
    digits = whole.rjust(100, "0") + decimals.ljust(100, "0")
    point = 100 + exponent
    return f"{sign}{digits[:point].lstrip('0') or '0'}.{digits[point:].rstrip('0')}".rstrip(".")


def parse(text: str, unit: AnyUnit, *, signed: bool = False) -> int:
    """Read decimal text as quanta of 0.01 nm.

    >>> parse(".375", "in") == parse("9.525", "mm")
    True

    Args:
        text: decimal text such as ``"12.3455"``, ``".375"``, ``"+0.50"``; no exponent, and no
            minus unless ``signed``.
        unit: unit of the text: ``"mm"``, ``"in"``, ``"um"`` or ``"uin"``.
        signed: whether a negative value makes sense (a deviation, a tolerance).

    Raises:
        LengthError: not decimal text, negative, beyond 10 m, or finer than 0.01 nm.
        InputError: an argument is of another type, or no such unit.
    """
    # Looked at closely only where it does not fit: a request has a thousand lengths.
    if type(text) is not str or unit not in _UNITS:
        refuse_wrong(parse, {"text": text, "unit": unit})
    if not _SIGNED.fullmatch(text):
        raise LengthError(f"{text[:40]!r} {_why_not(text)}")
    text = plain(text)
    whole, _, decimals = text.partition(".")
    decimals = decimals.rstrip("0")
    scale: int = 10 ** len(decimals)
    # Whole numbers all the way: a float has no exact 0.1, and errors would add up in sums.
    quanta, rest = divmod(int(whole + decimals) * QUANTA[unit], scale)
    if rest:
        quanta = _printed_as(text, (2 * rest >= scale) + quanta, unit)
    if quanta < 0 and not signed:
        raise LengthError(f"{text} {UNIT_SIGNS[unit]} is negative")
    if abs(quanta) > LONGEST:
        raise LengthError(
            f"{text} {UNIT_SIGNS[unit]} is beyond the longest length of 10 m (393.7 in)"
        )
    return quanta


def _printed_as(text: str, quanta: int, unit: AnyUnit) -> int:
    """The nearest quanta, if `to_text` writes them as this very text, as it may in inches."""
    # Nothing else is rounded: a length changed in silence would be wrong in every sum.
    shortest = text.rstrip("0").rstrip(".") if "." in text else text
    if to_text(quanta, unit) != shortest:
        raise LengthError(f"{text} {UNIT_SIGNS[unit]} is finer than the resolution of 0.01 nm")
    return quanta


def _why_not(text: str) -> str:
    if has_decimal_comma(text):
        return DECIMAL_COMMA
    return "is not plain decimal text such as '12.3455' (at most 12 digits a side)"


def mm(text: str) -> int:
    """A length in millimetres, as quanta of 0.01 nm. Raises LengthError as `parse`.

    >>> mm("1.0005") + mm("20")
    2100050000
    """
    return parse(text, "mm", signed=True)


def inch(text: str) -> int:
    """A length in inches, as quanta of 0.01 nm. Raises LengthError as `parse`.

    >>> inch("1") == mm("25.4")
    True
    """
    return parse(text, "in", signed=True)


def um(text: str) -> int:
    """A deviation in micrometres, as quanta of 0.01 nm. Raises LengthError as `parse`.

    >>> um("-0.12")
    -12000
    """
    return parse(text, "um", signed=True)


def uin(text: str) -> int:
    """A deviation in microinches, as quanta of 0.01 nm. Raises LengthError as `parse`.

    >>> uin("2.5")
    6350
    """
    return parse(text, "uin", signed=True)


def to_multiple(size: int, step: int) -> int:
    """The multiple of a step that is nearest to a size; half a step is rounded up.

    >>> to_multiple(mm("1.0005"), mm("0.001")) == mm("1.001")
    True
    """
    return (2 * size + step) // (2 * step) * step


def to_text(quanta: int, unit: AnyUnit) -> str:
    """Write quanta of 0.01 nm as decimal text without trailing zeros.

    >>> to_text(inch("0.1001"), "mm")
    '2.54254'

    The text is exact wherever the value has an exact decimal text in the unit. A metric value in
    inches may have none; then 10 decimals of an inch (4 of a µin) are given, enough to find the
    quantum again by rounding.
    """
    if type(quanta) is not int or unit not in _UNITS:
        refuse_wrong(to_text, {"quanta": quanta, "unit": unit})
    places, size = _ROUNDED_DIGITS[unit], QUANTA[unit]
    scale: int = 10**places
    # No quantum lies half-way between two texts, so any rounding to the nearest is the same.
    nearest = (2 * abs(quanta) * scale + size) // (2 * size)
    whole, decimals = divmod(nearest, scale)
    text = f"{whole}.{decimals:0{places}d}".rstrip("0").rstrip(".")
    return f"-{text}" if quanta < 0 else text
