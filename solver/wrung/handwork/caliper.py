"""What a caliper shows on a stack, to find a block that was taken by mistake."""

from typing import Final

from msgspec import Struct

from wrung.answers import Stack
from wrung.lengths import Unit, inch, mm

_RESOLUTION: Final[dict[Unit, int]] = {"mm": mm("0.01"), "in": inch("0.0005")}
"""Digital steps in use on metric and inch calipers (common practice, no source)."""
_GIVE: Final[dict[Unit, int]] = {"mm": mm("0.03"), "in": inch("0.0015")}
"""What a good caliper may be off, and a little for the hand (common practice, no source)."""


class CaliperReading(Struct, frozen=True, kw_only=True):
    """What a caliper shows, and how far it may be off; quanta."""

    reading: int
    give: int


def caliper_reading(stack: Stack) -> CaliperReading:
    """The reading to expect, in the unit that the base block is marked in."""
    unit = stack.blocks[0].unit
    step = _RESOLUTION[unit]
    return CaliperReading(reading=(2 * stack.nominal + step) // (2 * step) * step, give=_GIVE[unit])
