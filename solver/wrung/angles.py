"""Angles as whole numbers of 1e-9 seconds of arc, read from text and written back.

One quantum on a sine bar of one metre is 5e-6 nm of height, far below the quantum of a length.
Decimal degrees to nine places, minutes and seconds are exact; radians go to the nearest quantum.
"""

import re
from decimal import Decimal
from typing import Final

from wrung.checked_types import typed
from wrung.errors import LengthError
from wrung.lengths import DECIMAL_COMMA, has_decimal_comma
from wrung.real import PI, in_reals, nearest

SECOND: Final = 10**9
"""Quanta in one second of arc."""
MINUTE: Final = 60 * SECOND
DEGREE: Final = 60 * MINUTE
RIGHT_ANGLE: Final = 90 * DEGREE

_S: Final = "[ \N{NO-BREAK SPACE}\N{THIN SPACE}\N{NARROW NO-BREAK SPACE}]{0,2}"
_SIGN: Final = "[+\N{MINUS SIGN}-]"
_DEGREES: Final = "(?:[°º\N{RING ABOVE}d]|deg)"
_MINUTES: Final = "(?:['m\N{PRIME}\N{RIGHT SINGLE QUOTATION MARK}]|min)"
_SECONDS: Final = (
    "(?:[\"s\N{DOUBLE PRIME}\N{RIGHT DOUBLE QUOTATION MARK}]|sec|''|\N{PRIME}\N{PRIME}"
    "|\N{RIGHT SINGLE QUOTATION MARK}\N{RIGHT SINGLE QUOTATION MARK})"
)
_WHOLE: Final = "[0-9]{1,6}"
_NUMBER: Final = r"(?:[0-9]{1,7}(?:\.[0-9]{0,12})?|\.[0-9]{1,12})"
# The last sign of all may be missing once a sign for degrees is there.
_SIZE: Final = (
    rf"(?:{_NUMBER}(?:{_S}(?:{_DEGREES}|rad))?"
    rf"|(?:{_WHOLE}{_S}{_DEGREES}{_S})?{_NUMBER}{_S}(?:{_MINUTES}|{_SECONDS})"
    rf"|{_WHOLE}{_S}{_DEGREES}{_S}{_NUMBER}"
    rf"|(?:{_WHOLE}{_S}{_DEGREES}{_S})?{_WHOLE}{_S}{_MINUTES}{_S}{_NUMBER}{_S}{_SECONDS}"
    rf"|{_WHOLE}{_S}{_DEGREES}{_S}{_WHOLE}{_S}{_MINUTES}{_S}{_NUMBER})"
)
UNSIGNED_ANGLE_PATTERN: Final = rf"{_S}\+?{_S}{_SIZE}{_S}"
ANGLE_PATTERN: Final = rf"{_S}{_SIGN}?{_S}{_SIZE}{_S}"
"""``27.5``, ``27.5°``, ``27.5 deg``; ``27°30'``, ``27° 30′ 15.5″``, ``27°30``; ``0.48 rad``.

Leading zeros, spaces between the parts, typographic signs and a leading sign are all right.
"""

_ANGLE: Final = re.compile(ANGLE_PATTERN)
_SIGNED: Final = re.compile(rf"{_S}({_SIGN}?){_S}(.*?){_S}")
_RADIANS: Final = re.compile(rf"({_NUMBER}){_S}rad")
_PARTS: Final = re.compile(
    rf"(?:({_NUMBER}){_S}(?:{_DEGREES}|$){_S})?"
    rf"(?:({_NUMBER}){_S}(?:{_MINUTES}(?!')|$){_S})?(?:({_NUMBER}){_S}(?:{_SECONDS}|$))?"
)
_CLOCK: Final = 60


@typed
@in_reals
def angle(text: str) -> int:
    """Read an angle as quanta of 1e-9 seconds of arc.

    >>> angle("13°07′05″") == angle("13d 7m 5s")
    True

    Args:
        text: see `ANGLE_PATTERN`; a number alone is in degrees.

    Raises:
        LengthError: the text is no angle.
        InputError: it is no text.
    """
    found = _SIGNED.fullmatch(text)
    if found is None or not _ANGLE.fullmatch(text):
        raise LengthError(f"{text[:40]!r} {_why_not(text)}")
    size = _size(found[2])
    # The sign is taken apart, as -0°30' would lose it with its degrees.
    return size if found[1] in ("", "+") else -size


def _why_not(text: str) -> str:
    if has_decimal_comma(text):
        return DECIMAL_COMMA
    return """is not degrees such as '27.5' or 27°30'15", or radians such as '0.48 rad'"""


def _size(text: str) -> int:
    if found := _RADIANS.fullmatch(text):
        return from_radians(Decimal(found[1]))
    parts = _PARTS.fullmatch(text)
    if parts is None:
        raise LengthError(f"{text[:40]!r} {_why_not(text)}")
    degrees, minutes, seconds = (Decimal(part or 0) for part in parts.groups())
    # 1°75' is more likely a slip than 2°15', so it is refused; 75' alone is what it says.
    for larger, smaller in ((parts[1], minutes), (parts[1] or parts[2], seconds)):
        if larger and smaller >= _CLOCK:
            raise LengthError(
                f"{text[:40]} has 60 minutes or seconds, or more, after a larger part"
            )
    return nearest(degrees * DEGREE + minutes * MINUTE + seconds * SECOND)


@typed
@in_reals
def radians(quanta: int) -> Decimal:
    """The angle, quanta of 1e-9 seconds of arc, in radians.

    >>> round(radians(angle("180")), 6)
    Decimal('3.141593')
    """
    return Decimal(quanta) * PI / (2 * RIGHT_ANGLE)


@typed
@in_reals
def from_radians(value: Decimal) -> int:
    """Quanta of 1e-9 seconds of arc of an angle in radians, to the nearest one.

    >>> from_radians(Decimal(0))
    0
    """
    return nearest(value * 2 * RIGHT_ANGLE / PI)


@typed
def to_degrees(quanta: int) -> str:
    """Quanta of 1e-9 seconds of arc as decimal degrees to nine places, without trailing zeros.

    >>> to_degrees(angle("27°30'"))
    '27.5'
    """
    return _plain(quanta, DEGREE, 9)


@typed
def to_seconds(quanta: int) -> str:
    """Quanta of 1e-9 seconds of arc as decimal seconds to three places, without trailing zeros.

    >>> to_seconds(angle("1'0.5\N{DOUBLE PRIME}"))
    '60.5'
    """
    return _plain(quanta, SECOND, 3)


@typed
@in_reals
def to_dms(quanta: int, *, tenths: bool = True) -> str:
    r"""Quanta of 1e-9 seconds of arc as degrees, minutes and seconds, to a tenth or to whole ones.

    >>> to_dms(angle("27.5"))
    '27°30\'00.0"'
    """
    # Rounded before it is divided, so that 59.96" carries into the minutes.
    parts = 10 if tenths else 1
    size = nearest(Decimal(abs(quanta)) * parts / SECOND)
    minutes, rest = divmod(size, _CLOCK * parts)
    part = f".{rest % parts}" if tenths else ""
    text = f"{minutes // _CLOCK}°{minutes % _CLOCK:02}'{rest // parts:02}{part}\""
    # What rounds to zero has no sign.
    return f"-{text}" if quanta < 0 < size else text


@in_reals
def _plain(quanta: int, size: int, places: int) -> str:
    scaled = nearest(Decimal(quanta) * 10**places / size)
    return f"{(Decimal(scaled) / 10**places).normalize():f}"
