"""What a taper plug and a taper bore have in common, by whatever way they are measured."""

from collections.abc import Iterator
from decimal import Decimal
from typing import Annotated, Final

from msgspec import Meta

from wrung.angles import DEGREE, radians
from wrung.errors import Fault, require, unless
from wrung.measures import Angle, Seconds, Sensitivity
from wrung.targets.base import StackTarget, TargetResult
from wrung.targets.built import BuiltLength
from wrung.targets.contributions import AngleBudget
from wrung.targets.taper import FoundTaper, Taper, angle_member, taper_faults

WIDEST: Final = 120 * DEGREE
"""Beyond this included angle neither rolls nor balls are the way to measure a cone."""


class MeasuredTaperTarget(StackTarget, frozen=True, kw_only=True):
    """A taper by its included angle or otherwise; a kind says how it is measured."""

    included_angle: Annotated[
        Angle | None, Meta(description="Included angle of the taper, or `taper` in its place.")
    ] = None
    taper: Annotated[Taper | None, Meta(description="The taper by its name, ratio or rate.")] = None

    @property
    def wanted_angle(self) -> int:
        """The included angle, however the taper was given."""
        if self.included_angle is None and self.taper is not None:
            return self.taper.included_angle()
        return self.included_angle or 0

    def half_of(self, angle: int | None = None) -> Decimal:
        """Half of an included angle, of the wanted one if there is no other, radians."""
        return radians(self.wanted_angle if angle is None else angle) / 2

    def require_angle(self, least: int, range_in_words: str) -> None:
        """Refuse an angle below the least or far too wide, quanta, or a taper that is none."""
        require(*taper_faults(self.included_angle, self.taper, "included_angle"))
        member = angle_member(self.taper, "included_angle")
        require(unless(least <= self.wanted_angle < WIDEST, member, range_in_words))

    def both_or_none(self, *members: str) -> Iterator[Fault | None]:
        """The faults of measurements that say nothing without one another."""
        given = [getattr(self, member) is not None for member in members]
        for member, here in zip(members, given, strict=True):
            yield unless(here or not any(given), member, "give both measurements, or none")


class MeasuredTaperResult(TargetResult, frozen=True, kw_only=True):
    """The taper that was asked for, and the one that was measured."""

    taper: Annotated[FoundTaper, Meta(description="The taper, in every way it is given.")]
    stacks: Annotated[tuple[BuiltLength, ...], Meta(description="The stacks as built.")]
    sensitivity: Annotated[
        Sensitivity,
        Meta(
            description="Change of the included angle for 1 µm, or 0.0001 in, over the rolls or "
            "between the balls, in seconds."
        ),
    ]
    measured_angle: Annotated[
        Angle | None, Meta(description="Included angle, from the measurements.")
    ]
    angle_error: Annotated[Seconds | None, Meta(description="That angle less the wanted one.")]
    angle_budget: Annotated[
        AngleBudget | None,
        Meta(description="How uncertain the measured angle is, or will be, by these inputs."),
    ]
