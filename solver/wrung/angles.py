"""Angles as whole numbers of 1e-9 seconds of arc, read from text and written back.

One quantum on a sine bar of one metre is 5e-6 nm of height, far below the quantum of a length.
Decimal degrees to nine places, minutes and seconds are exact; radians go to the nearest quantum.
"""

import re
from decimal import Decimal
from typing import Final

from wrung.errors import LengthError
from wrung.real import PI, in_reals, nearest

SECOND: Final = 10**9
"""Quanta in one second of arc."""
MINUTE: Final = 60 * SECOND
DEGREE: Final = 60 * MINUTE
RIGHT_ANGLE: Final = 90 * DEGREE

_MINUTES: Final = "['m\N{PRIME}]"
_SECONDS: Final = '["s\N{DOUBLE PRIME}]'
_WHOLE: Final = r"(?:0|[1-9][0-9]{0,5})"
_NUMBER: Final = rf"{_WHOLE}(?:\.[0-9]{{1,12}})?"
ANGLE_PATTERN: Final = (
    rf"-?{_NUMBER}( ?(°|deg|rad))?"
    rf"|-?{_WHOLE} ?[°d] ?({_NUMBER} ?{_MINUTES}|{_WHOLE} ?{_MINUTES} ?{_NUMBER} ?{_SECONDS})"
)
"""``27.5``, ``27.5°``, ``27.5 deg``; ``27°30'``, ``27°30'15.5"``, ``27d30m15.5s``; ``0.48 rad``."""

_DECIMAL: Final = re.compile(rf"(-?)({_NUMBER}) ?(°|deg|rad)?")
_PARTS: Final = re.compile(
    rf"(-?)({_WHOLE}) ?[°d] ?({_NUMBER}) ?{_MINUTES}(?: ?({_NUMBER}) ?{_SECONDS})?"
)
_CLOCK: Final = 60


def angle(text: str) -> int:
    """Read an angle as quanta of 1e-9 seconds.

    Args:
        text: see `ANGLE_PATTERN`; a number alone is in degrees.

    Raises:
        LengthError: the text is no angle.
    """
    if re.fullmatch(ANGLE_PATTERN, text):
        if found := _DECIMAL.fullmatch(text):
            return _from_number(*found.groups())
        if found := _PARTS.fullmatch(text):
            return _from_parts(*found.groups("0"))
    wanted = """degrees such as '27.5' or 27°30'15", or radians such as '0.48 rad'"""
    raise LengthError(f"{text[:40]!r} is not {wanted}")


@in_reals
def _from_number(sign: str, number: str, unit: str | None) -> int:
    if unit == "rad":
        return from_radians(Decimal(sign + number))
    return nearest(Decimal(sign + number) * DEGREE)


@in_reals
def _from_parts(sign: str, degrees: str, minutes: str, seconds: str) -> int:
    # 75' is more likely a slip than 1°15', so it is refused rather than carried over.
    if Decimal(minutes) >= _CLOCK or Decimal(seconds) >= _CLOCK:
        raise LengthError(
            f"an angle has less than 60 minutes and seconds, not {minutes}, {seconds}"
        )
    size = int(degrees) * DEGREE + nearest(Decimal(minutes) * MINUTE + Decimal(seconds) * SECOND)
    # The sign is taken apart, as -0°30' would lose it with its degrees.
    return -size if sign else size


@in_reals
def radians(quanta: int) -> Decimal:
    """The angle in radians."""
    return Decimal(quanta) * PI / (2 * RIGHT_ANGLE)


@in_reals
def from_radians(value: Decimal) -> int:
    """Quanta of an angle in radians, to the nearest one."""
    return nearest(value * 2 * RIGHT_ANGLE / PI)


def to_degrees(quanta: int) -> str:
    """Decimal degrees to nine places, without trailing zeros."""
    return _plain(quanta, DEGREE, 9)


def to_seconds(quanta: int) -> str:
    """Decimal seconds to three places, without trailing zeros."""
    return _plain(quanta, SECOND, 3)


@in_reals
def to_dms(quanta: int) -> str:
    """Degrees, minutes and seconds to a tenth, such as ``27°30'15.5"``."""
    # Rounded before it is divided, so that 59.96" carries into the minutes.
    tenths = nearest(Decimal(abs(quanta)) * 10 / SECOND)
    minutes, rest = divmod(tenths, 600)
    text = f"{minutes // 60}°{minutes % 60:02}'{rest // 10:02}.{rest % 10}\""
    # What rounds to zero has no sign.
    return f"-{text}" if quanta < 0 < tenths else text


@in_reals
def _plain(quanta: int, size: int, places: int) -> str:
    scaled = nearest(Decimal(quanta) * 10**places / size)
    return f"{(Decimal(scaled) / 10**places).normalize():f}"
