"""What a caliper shows on a stack, to find a block that was taken by mistake."""

from typing import Final

from msgspec import Struct

from wrung.answers import Stack
from wrung.instruments.check_points import limit_of_length
from wrung.lengths import Unit, inch, mm, to_multiple

_RESOLUTION: Final[dict[Unit, int]] = {"mm": mm("0.01"), "in": inch("0.0005")}
"""Digital steps in use on metric and inch calipers (common practice, no source)."""


class RoughReading(Struct, frozen=True, kw_only=True):
    """What an instrument shows on the right blocks, and how far it may be off; quanta."""

    reading: int
    give: int


def caliper_reading(stack: Stack, unit: Unit) -> RoughReading | None:
    """The reading to expect of a caliper in that unit; None where no caliper reaches.

    It may be off by what a good caliper is permitted at that length, and by one step of its
    reading.
    """
    permitted = limit_of_length("fine_caliper", stack.nominal)
    if permitted is None:
        return None
    step = _RESOLUTION[unit]
    # Up to whole steps, as half a step of an error cannot be read.
    give = -(-(permitted + step) // step) * step
    return RoughReading(reading=to_multiple(stack.nominal, step), give=give)
