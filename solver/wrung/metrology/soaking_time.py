"""How long a body takes until it is nearly as warm as the air about it: an estimate.

Lumped capacity: a body of mass m and specific heat c that gives off heat through its faces A with
the coefficient h comes as near as a share r of the first difference after (m c / h A) ln(1 / r), if
it is equally warm inside, which holds where the Biot number h (V / A) / k is below 0.1. Standard in
every textbook of heat transfer, such as Incropera and DeWitt, chapter 5 (from memory).
"""

from math import ceil, log
from typing import Final

from msgspec import Struct

from wrung.checked_types import typed
from wrung.errors import not_positive, require, unless
from wrung.lengths import QUANTA
from wrung.materials import Material, material

STILL_AIR: Final = (5.0, 10.0, 25.0)
"""Least, usual and largest coefficient, W/(m² K), of a body in a room without a draught.

Free convection in gases has 2 to 25 (Incropera and DeWitt, table 1.1, from memory), and radiation
about 20 °C adds 5.7 at most (a black body); that of bright metal is far less.
"""

UNIFORM: Final = 0.1
"""The Biot number up to which a body counts as equally warm inside."""

_M: Final = QUANTA["mm"] * 1000


class SoakingTime(Struct, frozen=True, kw_only=True):
    """An estimate, in minutes.

    Attributes:
        minutes: with the usual coefficient.
        least_minutes: with the largest one.
        most_minutes: with the least one.
        time_constant_minutes: after which the difference is 37 % of what it was; usual coefficient.
        biot_number: with the largest coefficient.
        uniform: whether that is small enough for the formula; else the core lags behind.
        mass_kg: of the body.
    """

    minutes: int
    least_minutes: int
    most_minutes: int
    time_constant_minutes: float
    biot_number: float
    uniform: bool
    mass_kg: float


@typed
def soaking_time(  # noqa: PLR0913 -- a body and two differences
    material_id: str,
    *,
    width: int,
    height: int,
    length: int | None = None,
    mass_kg: float | None = None,
    difference: float,
    remaining: float,
) -> SoakingTime:
    """The time of a bar with all its faces in still air.

    Args:
        material_id: of the bar, see `wrung.materials`.
        width: of its section, quanta of 0.01 nm.
        height: of its section, quanta.
        length: of the bar, quanta; if left out, by its mass.
        mass_kg: of the bar, kg; if left out, by its length.
        difference: how much warmer or colder than the air it is at first, K.
        remaining: how much of that may be left, K.

    Raises:
        InputError: the material is not known, or its figures are not; lengths, mass or differences
            that are not greater than zero; both or neither of length and mass.
    """
    found = material(material_id)
    given = {
        "/width": width,
        "/height": height,
        "/length": length,
        "/mass_kg": mass_kg,
        "/difference": difference,
        "/remaining": remaining,
    }
    detail = f"density, specific heat or conductivity of {found.id} are not known"
    require(
        *not_positive(given),
        unless((length is None) != (mass_kg is None), "length", "give either this or mass_kg"),
        unless(0 not in _figures(found), "material", detail),
    )
    density, heat, conductivity = _figures(found)
    section = width / _M * (height / _M)
    long = length / _M if length is not None else (mass_kg or 0.0) / density / section
    volume = section * long
    faces = 2 * (section + long * (width + height) / _M)
    stored = volume * density * heat / faces
    shares = log(difference / remaining) if remaining < difference else 0.0
    least, usual, largest = STILL_AIR
    biot = largest * volume / faces / conductivity

    def minutes(coefficient: float) -> int:
        return ceil(stored / coefficient * shares / 60)

    return SoakingTime(
        minutes=minutes(usual),
        least_minutes=minutes(largest),
        most_minutes=minutes(least),
        time_constant_minutes=stored / usual / 60,
        biot_number=biot,
        uniform=biot < UNIFORM,
        mass_kg=volume * density,
    )


def _figures(found: Material) -> tuple[float, float, float]:
    return (
        float(found.density or 0),
        float(found.specific_heat or 0),
        float(found.conductivity or 0),
    )
