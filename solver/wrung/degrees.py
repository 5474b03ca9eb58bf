"""Temperatures in °C and in °F. 0 °C is 32 °F, and a kelvin is 1.8 °F, exactly."""

from decimal import Decimal
from typing import Final, TypeVar

from wrung.measures import TemperatureUnit

FAHRENHEIT_A_KELVIN: Final = Decimal("1.8")
_MELTING: Final = 32

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
