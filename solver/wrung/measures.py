"""What the numbers in targets and results measure, so that any edge can write them in its units.

A member is annotated with one of these; a service that offers a kind of target reads from it how
the member looks outside.
"""

from decimal import Decimal
from enum import Enum
from typing import Annotated, Final, Literal, TypeAlias


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
