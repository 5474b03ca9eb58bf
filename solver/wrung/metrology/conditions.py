"""Where, when and how a stack is used."""

from collections.abc import Iterator
from datetime import date
from math import isfinite
from typing import Final

from msgspec.structs import replace

from wrung.checked_types import CheckedStruct
from wrung.errors import Fault, require, unless
from wrung.materials import USUAL_MATERIAL, material_fault
from wrung.measures import Measure
from wrung.metrology.quantities import Quantity, exactly
from wrung.metrology.student import TWO_SIGMA
from wrung.texts import Figure, figure

REFERENCE_TEMPERATURE: Final = 20.0
"""°C, ISO 1."""


class Part(CheckedStruct, frozen=True, kw_only=True):
    """A part that is compared with the stack, so that its size at 20 °C is wanted.

    One of ``material`` and ``expansion`` says how it grows. With ``expansion_difference`` it is of
    the same material as the blocks of ``material``, and grows by that much more than they do.

    Attributes:
        material: material id, see `wrung.materials`.
        expansion: coefficient of linear thermal expansion, 1e-6/K; goes before the table's.
        expansion_difference: its coefficient less that of the blocks of ``material``, 1e-6/K.
        temperature_difference: its temperature less the stack's, K: the gradient between the two.
    """

    material: str | None = None
    expansion: Quantity | None = None
    expansion_difference: Quantity | None = None
    temperature_difference: Quantity = exactly(0.0)


class Extra(CheckedStruct, frozen=True, kw_only=True):
    """A further contribution to the length, such as a comparator's reading; nm.

    Attributes:
        name: what it is.
        value: what it adds to the length, nm, and how sure that is.
    """

    name: str
    value: Quantity


class Conditions(CheckedStruct, frozen=True, kw_only=True):
    """Where, when and how a stack is used; lengths in quanta of 0.01 nm.

    Attributes:
        used_on: day of use; counts the drift since calibration. Without it drift is left out.
        temperature: of the stack, °C; None if not known, which counts as 20 °C exactly.
        part: the part compared with the stack; None if the stack's own length is wanted.
        wringing: how far the film of one joint is off the one that every length includes, quanta;
            None for any value within the joint allowance, all equally likely.
        off_centre: how far from the centre of the faces the stack may be touched: 0 only there,
            1 up to the edge.
        correlation: correlation coefficient of the lengths of one certificate, 0 to 1.
        coverage_probability: of the expanded uncertainty.
        extras: further contributions.
    """

    used_on: date | None = None
    temperature: Quantity | None = None
    part: Part | None = None
    wringing: Quantity | None = None
    off_centre: float = 1.0
    correlation: float = 1.0
    coverage_probability: float = TWO_SIGMA
    extras: tuple[Extra, ...] = ()

    @property
    def thermal(self) -> bool:
        """Whether anything is said of temperatures."""
        return self.temperature is not None or self.part is not None

    def with_part(self, material: str | None = None) -> "Conditions":
        """The same with a part, where anything is said of temperatures.

        Args:
            material: of the part, before what the conditions say; steel where neither says.
        """
        if material is None and (self.part is not None or not self.thermal):
            return self
        warmer = self.part.temperature_difference if self.part else exactly(0.0)
        part = Part(material=material or USUAL_MATERIAL, temperature_difference=warmer)
        return replace(self, part=part)

    @property
    def excess(self) -> Quantity:
        """Temperature of the stack less 20 °C, K."""
        at = self.temperature or exactly(REFERENCE_TEMPERATURE)
        return replace(at, estimate=at.estimate - REFERENCE_TEMPERATURE)


def reference_figure() -> Figure:
    """The reference temperature as a figure of a phrase."""
    return figure("reference", f"{REFERENCE_TEMPERATURE:g}", Measure.TEMPERATURE)


STANDARD: Final = Conditions()
"""At 20 °C, fully correlated certificates, touched anywhere on the faces, k = 2."""


def check(conditions: Conditions) -> None:
    """Make sure that the conditions make sense.

    Raises:
        InputError: with every fault, pointers relative to the conditions.
    """
    require(*_faults(conditions))


def _faults(conditions: Conditions) -> Iterator[Fault | None]:
    for member in ("off_centre", "correlation"):
        yield unless(0 <= getattr(conditions, member) <= 1, member, "must lie between 0 and 1")
    within = 0 < conditions.coverage_probability < 1
    detail = "must lie between 0 and 1, ends not included"
    yield unless(within, "coverage_probability", detail)
    yield from _quantity_faults("/temperature", conditions.temperature)
    yield from _quantity_faults("/wringing", conditions.wringing)
    for index, extra in enumerate(conditions.extras):
        yield from _quantity_faults(f"/extras/{index}/value", extra.value)
    if conditions.part is not None:
        yield from _part_faults(conditions.part)


def _part_faults(part: Part) -> Iterator[Fault | None]:
    yield from _quantity_faults("/part/temperature_difference", part.temperature_difference)
    yield from _quantity_faults("/part/expansion", part.expansion)
    yield from _quantity_faults("/part/expansion_difference", part.expansion_difference)
    known = part.material is not None or part.expansion is not None
    yield unless(known, "part", "the part needs a material or an expansion coefficient")
    if part.expansion_difference is not None:
        at, detail = "/part", "says nothing without the material that it is compared with"
        yield unless(part.material is not None, "expansion_difference", detail, at)
        detail = "contradicts expansion: give one of them"
        yield unless(part.expansion is None, "expansion_difference", detail, at)
    yield material_fault(part.material, "/part/material")


def _quantity_faults(at: str, value: Quantity | None) -> Iterator[Fault | None]:
    if value is None:
        return
    # An infinite or missing number would spread to every figure of the budget.
    yield unless(isfinite(value.estimate), "estimate", "must be a number", at)
    for member in ("uncertainty", "limit"):
        sound = isfinite(getattr(value, member)) and getattr(value, member) >= 0
        yield unless(sound, member, "must be a number that is not negative", at)
    # Infinity is allowed here; nan compares false.
    yield unless(value.degrees_of_freedom >= 1, "degrees_of_freedom", "must be at least 1", at)
