"""What the numbers in targets and results measure, so that any edge can write them in its units.

A member is annotated with one of these; a service that offers a kind of target reads from it how
the member looks outside.
"""

from decimal import Decimal
from enum import Enum
from typing import Annotated, Final, Literal, TypeAlias, TypeVar


class Measure(Enum):
    """How a whole number of quanta, or a decimal, is meant."""

    LENGTH = "a length, in the large unit, not negative"
    DIFFERENCE = "a signed difference of lengths, in the large unit"
    DEVIATION = "a signed deviation, in the small unit"
    MARGIN = "an uncertainty or error bound, in the small unit, not negative"
    ANGLE = "an angle"
    SECONDS = "a small angle, signed, in seconds"
    RATIO = "a plain number"
    TEMPERATURE = "degrees Celsius"
    EXPANSION = "millionths of a length for each kelvin"
    SENSITIVITY = "seconds of angle by a micrometre"


TemperatureUnit: TypeAlias = Literal["degC", "degF"]
"""Units that temperatures are read in and spoken of; the library itself works in °C."""


Length: TypeAlias = Annotated[int, Measure.LENGTH]
Difference: TypeAlias = Annotated[int, Measure.DIFFERENCE]
Deviation: TypeAlias = Annotated[int, Measure.DEVIATION]
Margin: TypeAlias = Annotated[int, Measure.MARGIN]
Angle: TypeAlias = Annotated[int, Measure.ANGLE]
Seconds: TypeAlias = Annotated[int, Measure.SECONDS]
Ratio: TypeAlias = Annotated[Decimal, Measure.RATIO]
Temperature: TypeAlias = Annotated[Decimal, Measure.TEMPERATURE]
Sensitivity: TypeAlias = Annotated[Decimal, Measure.SENSITIVITY]

SENSITIVITY_STEP: Final = Decimal("0.00001")
"""What sensitivities are rounded to: fine enough to be restated for 0.0001 in."""

FAHRENHEIT_A_KELVIN: Final = Decimal("1.8")
_MELTING: Final = 32
"""0 °C is 32 °F, and a kelvin is 1.8 °F, exactly."""

Number = TypeVar("Number", Decimal, float)


def to_celsius(degrees: Number, unit: TemperatureUnit) -> Number:
    """A temperature in °C."""
    return degrees if unit == "degC" else to_kelvin(degrees - _MELTING, unit)


def to_kelvin(difference: Number, unit: TemperatureUnit) -> Number:
    """A difference of temperatures in K."""
    # As a quotient of whole numbers, which is as near as a decimal or a float can come.
    return difference if unit == "degC" else difference * 5 / 9


def from_celsius(celsius: Decimal, unit: TemperatureUnit) -> Decimal:
    """A temperature in another unit."""
    return celsius if unit == "degC" else celsius * FAHRENHEIT_A_KELVIN + _MELTING
