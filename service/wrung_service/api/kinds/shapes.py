"""How each measure looks on the wire: what a client may send, and how it is read and written."""

import re
from collections.abc import Callable
from decimal import Decimal
from typing import Annotated, Any, Final, TypeAlias

import msgspec
from msgspec import Meta, Raw, Struct

from wrung.angles import SECOND, UNSIGNED_ANGLE_PATTERN, angle, to_degrees, to_dms, to_seconds
from wrung.errors import LengthError
from wrung.lengths import SMALL_UNIT, Unit, parse, to_text
from wrung.measures import Measure, TemperatureUnit, to_celsius
from wrung.real import nearest
from wrung_service.api.texts import DecimalText
from wrung_service.api.wire_lengths import Shape

Hint: TypeAlias = Any
"""A type annotation; Python has no type for those of msgspec."""

Value: TypeAlias = Any
"""A value of a type that is known only as a `Hint`."""

_ANGLE: Final = re.compile(UNSIGNED_ANGLE_PATTERN)
# Bounded, so that no text makes a number that is slow to compute with.
_DIGITS: Final = re.compile(r"-?[0-9]{1,6}(\.[0-9]{1,12})?")


class Units(Struct, frozen=True, kw_only=True):
    """What the numbers of a request are in, where they state no other unit."""

    length: Unit
    degrees: TemperatureUnit = "degC"


class AngleShape(Shape, frozen=True, kw_only=True):
    """An angle: degrees as text or number, degrees with minutes and seconds, or radians."""

    name: str = "Angle"

    def pattern(self) -> re.Pattern[str]:
        """What its text may look like."""
        return _ANGLE

    def wanted(self) -> str:
        """What the member must be, in words."""
        return """must be an angle such as '27.5', '27°30'15"' or '0.48 rad', or a number"""


class AngleOnWire(Struct, frozen=True, kw_only=True):
    """An angle, written in two ways."""

    degrees: Annotated[DecimalText, Meta(description="Decimal degrees.")]
    dms: Annotated[str, Meta(description="Degrees, minutes and seconds, to a tenth of a second.")]


class Wire(Struct, frozen=True, kw_only=True):
    """How one measure is sent and received.

    Attributes:
        shape: what a client may send, where it must send something.
        read: from its text to the library's number; raises LengthError.
        hint: type of the member in an answer.
        write: from the library's number to that.
    """

    shape: Shape
    read: Callable[[str, Units], int | Decimal]
    hint: Hint
    write: Callable[[Value, Unit], object]

    def sent(self, *, optional: bool) -> Shape:
        """What a client may send for a member that may be null, or not."""
        # Of the same class, so that an angle keeps its own pattern.
        return msgspec.structs.replace(self.shape, optional=optional)

    def received(self, *, optional: bool) -> Hint:
        """The type of a member that a client sends."""
        shape = self.sent(optional=optional)
        return Annotated[Raw, shape, Meta(extra_json_schema=shape.schema())]


def _length(text: str, units: Units) -> int:
    return parse(text, units.length)


def _difference(text: str, units: Units) -> int:
    return parse(text, units.length, signed=True)


def _small(text: str, units: Units) -> int:
    return parse(text, SMALL_UNIT[units.length])


def _small_difference(text: str, units: Units) -> int:
    return parse(text, SMALL_UNIT[units.length], signed=True)


def _angle(text: str, _: Units) -> int:
    return angle(text)


def _seconds(text: str, _: Units) -> int:
    return nearest(_decimal(text) * SECOND)


def _plain(text: str, _: Units) -> Decimal:
    return _decimal(text)


def _temperature(text: str, units: Units) -> Decimal:
    return to_celsius(_decimal(text), units.degrees)


def _decimal(text: str) -> Decimal:
    if not _DIGITS.fullmatch(text):
        raise LengthError(f"{text[:40]!r} is no decimal below a million")
    return Decimal(text)


def _written_length(value: int, unit: Unit) -> str:
    return to_text(value, unit)


def _written_small(value: int, unit: Unit) -> str:
    return to_text(value, SMALL_UNIT[unit])


def _written_angle(value: int, _: Unit) -> AngleOnWire:
    return AngleOnWire(degrees=to_degrees(value), dms=to_dms(value))


def _written_seconds(value: int, _: Unit) -> str:
    return to_seconds(value)


def _written_decimal(value: Decimal, _: Unit) -> str:
    # `str` of a Decimal may have an exponent; decimal text has none.
    return f"{value:f}"


def _written_sensitivity(value: Decimal, unit: Unit) -> str:
    # For the change of a length that is usual in the unit: 1 µm, or 0.0001 in.
    usual = value if unit == "mm" else value * _UM_IN_A_TENTH
    return f"{usual.quantize(_THOUSANDTH):f}"


_UM_IN_A_TENTH: Final = Decimal("2.54")
"""Micrometres in 0.0001 in, a tenth of a thousandth."""

_THOUSANDTH: Final = Decimal("0.001")

_UNSIGNED, _SIGNED = Shape(), Shape(signed=True)
_DECIMAL, _SIGNED_DECIMAL = Shape(name="Decimal"), Shape(name="Decimal", signed=True)

# As on certificates, deviations and margins are in the small unit; lengths and their
# differences are in the unit.
WIRES: Final[dict[Measure, Wire]] = {
    measure: Wire(shape=shape, read=read, hint=hint, write=write)
    for measure, shape, read, hint, write in (
        (Measure.LENGTH, _UNSIGNED, _length, DecimalText, _written_length),
        (Measure.DIFFERENCE, _SIGNED, _difference, DecimalText, _written_length),
        (Measure.DEVIATION, _SIGNED, _small_difference, DecimalText, _written_small),
        (Measure.MARGIN, _UNSIGNED, _small, DecimalText, _written_small),
        (Measure.ANGLE, AngleShape(), _angle, AngleOnWire, _written_angle),
        (Measure.SECONDS, _SIGNED_DECIMAL, _seconds, DecimalText, _written_seconds),
        (Measure.RATIO, _SIGNED_DECIMAL, _plain, DecimalText, _written_decimal),
        (Measure.SENSITIVITY, _DECIMAL, _plain, DecimalText, _written_sensitivity),
        (Measure.TEMPERATURE, _SIGNED_DECIMAL, _temperature, DecimalText, _written_decimal),
    )
}
