"""Where the stack and the work are not equally warm, as the figures of an answer allow for."""

from typing import Final

from msgspec import Struct

from wrung.checked_types import typed
from wrung.measures import Measure
from wrung.metrology.conditions import REFERENCE_TEMPERATURE, Conditions
from wrung.texts import Figure, figure

_PLACES: Final = 6
"""Decimals of a kelvin; beyond them a difference only comes from working in binary."""


class Apart(Struct, frozen=True, kw_only=True):
    """Two temperatures that differ, °C."""

    stack: float
    work: float

    @property
    def of_stack(self) -> Figure:
        """The stack's, as a figure of a phrase."""
        return _figure("temperature", self.stack)

    @property
    def of_work(self) -> Figure:
        """The work's, likewise."""
        return _figure("work", self.work)


@typed
def apart(conditions: Conditions) -> Apart | None:
    """The temperatures of stack and work; None where both are equally warm."""
    part = conditions.part
    if part is None or not round(part.temperature_difference.estimate, _PLACES):
        return None
    stack = REFERENCE_TEMPERATURE + conditions.excess.estimate
    return Apart(stack=stack, work=stack + part.temperature_difference.estimate)


def _figure(name: str, celsius: float) -> Figure:
    return figure(name, f"{celsius:.{_PLACES}f}", Measure.TEMPERATURE)
