"""Where GO and NOT GO lie inside the limits of a part: guard band, wear allowance, gauge tolerance.

A gauge is made to a tolerance of its own. Its zone begins at the limit of the part and lies inside
it, with the GO gauge's wear allowance left between: the ten percent rule (common practice in the
United States; no bad part passes). Or it is centred: about the limit for NOT GO, about a distance z
inside the limit for GO, as ISO/R 1938 has it. By that standard a worn GO gauge may be past the
limit by y, and over 180 mm NOT GO and the worn GO gauge lie further inside by alpha, for safety.
"""

from collections.abc import Sequence
from typing import Literal, TypeAlias

from msgspec import Struct

GaugeZone: TypeAlias = Literal["inside", "centred"]


class Allowances(Struct, frozen=True, kw_only=True):
    """What gauges are moved by; lengths in quanta of 0.01 nm.

    Attributes:
        guard_band: how far inside the part's limits everything else begins.
        wear_allowance: how far further inside GO lies; to the middle of its zone where centred.
        gauge_tolerance: width of the zone of a gauge; None where the stack itself is the gauge.
        gauge_zone: how the zones lie.
        safety: how far further inside NOT GO and the wear limit of GO lie.
        wear_past: how far a worn GO gauge may be past all that.
        rounded_to: stacks are rounded to it, inward; None for exact ones.
    """

    guard_band: int = 0
    wear_allowance: int = 0
    gauge_tolerance: int | None = None
    gauge_zone: GaugeZone = "inside"
    safety: int = 0
    wear_past: int = 0
    rounded_to: int | None = None


class GaugePlace(Struct, frozen=True, kw_only=True):
    """One limit of a part, and its gauge; lengths in quanta.

    Attributes:
        limit: the limit of the part.
        inward: 1 for a lower limit, -1 for an upper one.
        exact_length: length of the stack before it is rounded, the middle of the gauge's zone.
        wanted_length: length of the stack.
        zone: smallest and largest size of a new gauge; None without a tolerance.
        wear_limit: where a worn GO gauge is done with; None without an allowance for wear.
    """

    limit: int
    inward: Literal[1, -1]
    exact_length: int
    wanted_length: int
    zone: tuple[int, int] | None = None
    wear_limit: int | None = None

    def innermost(self, *, rounded: bool) -> int:
        """The size farthest from the limit: of the stack, rounded or not, or of a gauge."""
        length = self.wanted_length if rounded else self.exact_length
        ends: tuple[int, ...] = (length, *(self.zone or ()))
        return max(ends) if self.inward > 0 else min(ends)


def gauge_at(limit: int, inward: Literal[1, -1], allowances: Allowances, *, go: bool) -> GaugePlace:
    """The gauge for a limit.

    Args:
        limit: the limit of the part, quanta.
        inward: 1 for a lower limit, -1 for an upper one.
        allowances: what it is moved by.
        go: whether it is the GO gauge, which wears.
    """
    width = allowances.gauge_tolerance or 0
    begins = limit + inward * allowances.guard_band
    # The end of the zone that is nearer to the limit.
    outer = begins + inward * (allowances.wear_allowance if go else allowances.safety)
    if allowances.gauge_zone == "centred":
        outer -= inward * (width // 2)
    worn = begins + inward * (allowances.safety - allowances.wear_past)
    middle, inner = outer + inward * (width // 2), outer + inward * width
    return GaugePlace(
        limit=limit,
        inward=inward,
        exact_length=middle,
        wanted_length=_rounded(middle, inward, allowances.rounded_to),
        zone=None if allowances.gauge_tolerance is None else (min(outer, inner), max(outer, inner)),
        wear_limit=worn if go and allowances.wear_allowance else None,
    )


def has_room(places: Sequence[GaugePlace], *, rounded: bool = True) -> bool:
    """Whether the gauge of the lower limit is smaller than that of the upper one.

    A single upper limit has room down to zero, a single lower one without an end.
    """
    low = [place.innermost(rounded=rounded) for place in places if place.inward > 0]
    high = [place.innermost(rounded=rounded) for place in places if place.inward < 0]
    return not high or max(low, default=0) < min(high)


def _rounded(length: int, inward: int, step: int | None) -> int:
    if step is None:
        return length
    # Whole numbers are rounded up by rounding their negatives down.
    return -inward * (-inward * length // step * step)
