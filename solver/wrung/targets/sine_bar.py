"""A sine bar or sine plate: what height its angle takes, and what angle a height gives."""

from collections.abc import Iterator, Sequence
from decimal import Decimal
from typing import Annotated, ClassVar

from msgspec import Meta, Struct
from msgspec.structs import replace

from wrung.angles import RIGHT_ANGLE, from_radians, radians
from wrung.answers import Nearest, Unmet
from wrung.checked_types import CheckedStruct
from wrung.errors import Fault, not_negative, positive, unless
from wrung.measures import Angle, Deviation, Length, Margin, Seconds, Sensitivity
from wrung.real import asin, cos, in_reals, nearest, sin
from wrung.stack_names import StackName
from wrung.targets.base import EXACT, RoundingStep, StackTarget
from wrung.targets.contributions import seconds_a_micrometre
from wrung.targets.requirement import Tolerance
from wrung.targets.steps import to_step


class SineBar(CheckedStruct, frozen=True, kw_only=True):
    """A sine bar or one hinge of a sine plate, with rolls of equal diameter."""

    centre_distance: Annotated[
        Length, Meta(description="Nominal distance between the axes of its rolls.", examples=["5"])
    ]
    deviation: Annotated[Deviation, Meta(description="Certified deviation of that distance.")] = 0
    expanded_uncertainty: Annotated[
        Margin, Meta(description="Expanded uncertainty, or limit deviation, of that distance.")
    ] = 0

    @property
    def distance(self) -> int:
        """Best known centre distance."""
        return self.centre_distance + self.deviation

    def faults(self, at: str) -> Iterator[Fault | None]:
        """What is wrong with the bar; ``at`` is its pointer."""
        yield from positive(self, "centre_distance", at=at)
        yield unless(
            # So large a deviation is a slip in the unit, such as mm where µm are meant.
            self.centre_distance <= 0 or abs(self.deviation) * 100 < self.centre_distance,
            "deviation",
            "is a hundredth of the centre distance or more; it is in the small unit",
            at,
        )
        yield from not_negative(self, "expanded_uncertainty", at=at)

    @in_reals
    def height(self, angle: int) -> int:
        """Difference of height of the rolls at an angle, to the nearest quantum."""
        return nearest(self.distance * sin(radians(angle)))

    @in_reals
    def angle(self, height: int) -> int | None:
        """The angle at a difference of height; None if it is beyond the bar's reach."""
        # Higher than the bar is long, there is no angle with such a sine.
        if not 0 <= height <= self.distance:
            return None
        return from_radians(asin(Decimal(height) / self.distance))

    def length(self, angle: int, within: int | None, step: int | None) -> int:
        """The height to build for an angle: rounded to the step, where that is near enough."""
        exact = self.height(angle)
        rounded = to_step(exact, step)
        if within is None:
            return rounded
        lowest, highest = self._heights(angle, within)
        return rounded if lowest <= rounded <= highest else exact

    def window(self, angle: int, within: int | None, length: int) -> Tolerance:
        """Heights that set the angle within some seconds, relative to ``length``."""
        if within is None:
            return EXACT
        lowest, highest = self._heights(angle, within)
        return Tolerance(lower=lowest - length, upper=highest - length)

    def _heights(self, angle: int, within: int) -> tuple[int, int]:
        lowest, highest = max(angle - within, 0), min(angle + within, RIGHT_ANGLE)
        return self.height(lowest), self.height(highest)

    @in_reals
    def uncertainty(self, angle: int, margin: int) -> int:
        """Worst-case error of the angle from those of the heights and the centre distance."""
        x = radians(angle)
        # From h = L sin x: dx = (dh - sin x dL) / (L cos x), here with all signs at their worst.
        off = margin + sin(x) * self.expanded_uncertainty
        return from_radians(off / (self.distance * cos(x)))

    @in_reals
    def sensitivity(self, angle: int) -> Decimal:
        """Change of the angle by 1 µm of height."""
        return seconds_a_micrometre(1 / (self.distance * cos(radians(angle))))


class SineBarTarget(StackTarget, frozen=True, kw_only=True):
    """Something set by sine bars or sine plates."""

    cautions: ClassVar[tuple[str, ...]] = ("caution.clamp", "caution.spindle", "caution.burr")
    stands: ClassVar[bool] = True

    max_angle_error: Annotated[
        Seconds | None,
        Meta(
            description="Largest angle error allowed of each bar or hinge, in seconds; none by "
            "default."
        ),
    ] = None
    step: RoundingStep = None


class SineSetting(Struct, frozen=True, kw_only=True):
    """One angle set on a sine bar."""

    angle: Annotated[Angle, Meta(description="The angle to set.")]
    height: Annotated[
        Length, Meta(description="Exact difference in height between the rolls for this angle.")
    ]
    sensitivity: Annotated[
        Sensitivity,
        Meta(description="Change of the angle for 1 µm, or 0.0001 in, of height, in seconds."),
    ]
    angle_reached: Annotated[
        Angle | None, Meta(description="The angle that the stacks as built set.")
    ] = None
    error: Annotated[
        Seconds | None, Meta(description="Angle reached less the angle to set, in seconds.")
    ] = None
    uncertainty: Annotated[
        Seconds | None,
        Meta(
            description="Worst-case error of the angle reached, from the stacks and the "
            "centre distance."
        ),
    ] = None
    settable_below: Annotated[
        Angle | None,
        Meta(description="Nearest smaller angle that can be set, if this one cannot."),
    ] = None
    settable_above: Annotated[Angle | None, Meta(description="Nearest larger one, likewise.")] = (
        None
    )


def setting(bar: SineBar, angle: int, height: int | None, margin: int) -> SineSetting:
    """An angle on a bar, reached by rolls that differ by ``height``, known within ``margin``."""
    reached = None if height is None else bar.angle(height)
    return SineSetting(
        angle=angle,
        height=bar.height(angle),
        sensitivity=bar.sensitivity(angle),
        angle_reached=reached,
        error=None if reached is None else reached - angle,
        uncertainty=None if reached is None else bar.uncertainty(angle, margin),
    )


def with_settable(
    setting: SineSetting, bar: SineBar, unmet: Sequence[Unmet], name: StackName, *, lower: int = 0
) -> SineSetting:
    """With the nearest angles below and above that an unmet stack could set.

    ``lower`` is the length under the lower roll.
    """
    found = next((each for each in unmet if each.name == name), None)
    if found is None:
        return setting
    return replace(
        setting,
        settable_below=_angle_of(bar, found.nearest_below, lower),
        settable_above=_angle_of(bar, found.nearest_above, lower),
    )


def _angle_of(bar: SineBar, near: Nearest | None, lower: int) -> int | None:
    return None if near is None else bar.angle(near.length - lower)
