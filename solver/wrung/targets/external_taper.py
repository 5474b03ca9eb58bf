"""A taper plug measured over two equal rolls: on the plate, then both on equal stacks.

With half the included angle a, tan a = (M2 - M1) / 2H, where M1 and M2 are measured over the rolls
on the plate and on stacks of length H. A roll of diameter d that touches plate and cone gives
M1 = D + d (1 + tan a + 1/cos a), with D the diameter of the cone at the plate. Standard in every
textbook of workshop metrology, such as Carvill, Mechanical Engineer's Data Handbook, 7.2.2.
"""

from collections.abc import Sequence
from decimal import Decimal
from typing import Annotated, ClassVar, Final

from msgspec import Meta

from wrung.angles import from_radians
from wrung.answers import Stack, Unmet
from wrung.errors import not_negative, positive, require, unless
from wrung.measures import Length, Margin
from wrung.real import atan, cos, in_reals, nearest, sin, tan
from wrung.targets.built import built, in_use, temperature_remarks
from wrung.targets.contributions import (
    AngleBudget,
    angle_budget,
    of_expanded,
    of_stack,
    seconds_a_micrometre,
    uncertainty_of,
)
from wrung.targets.measured_taper import MeasuredTaperResult, MeasuredTaperTarget
from wrung.targets.requirement import Requirement
from wrung.targets.roll_contact import Compression, CompressionLimits, PressedRolls, Pressing
from wrung.targets.taper import found_taper, taper_remarks

SIDES: Final = ("left", "right")


class ExternalTaperTarget(MeasuredTaperTarget, frozen=True, kw_only=True, tag="external_taper"):
    """Two equal stacks under the rolls beside a taper plug that stands on its small end.

    In Python, lengths are in quanta of 0.01 nm, see `wrung.mm` and `wrung.inch`,
    and angles in quanta of 1e-9 seconds of arc, see `wrung.angle`.

    >>> target = ExternalTaperTarget(ref="plug", included_angle=angle("8"), small_end=mm("20"),
    ...     roll_diameter=mm("10"), stack_length=mm("30"))
    >>> [to_text(each.length, "mm") for each in target.requirements()]
    ['30', '30']
    """

    cautions: ClassVar[tuple[str, ...]] = ("caution.light_touch", "caution.burr")
    stands: ClassVar[bool] = True

    small_end: Annotated[Length, Meta(description="Diameter at the plate.")]
    roll_diameter: Annotated[Length, Meta(description="Diameter of both rolls.")]
    stack_length: Annotated[Length, Meta(description="Length of the two equal stacks.")]
    measured_low: Annotated[
        Length | None, Meta(description="Measured over the rolls on the plate.")
    ] = None
    measured_high: Annotated[
        Length | None, Meta(description="Measured over the rolls on the stacks.")
    ] = None
    size_uncertainty: Annotated[Margin, uncertainty_of("each size over the rolls")] = 0
    contact: Pressing = None

    def requirements(self) -> tuple[Requirement, ...]:
        """``left`` and ``right``, equally long."""
        self.require_angle(1, "must be greater than 0 and less than 120 degrees")
        require(
            *not_negative(self, "size_uncertainty"),
            *positive(self, "small_end", "roll_diameter", "stack_length"),
            *self.pressed().faults(),
        )
        low, high = self.measured_low, self.measured_high
        require(
            *self.both_or_none("measured_low", "measured_high"),
            unless(
                low is None or high is None or low < high,
                "measured_high",
                "must be greater than measured_low: the plug stands on its small end",
            ),
        )
        return tuple(self.stack(self.stack_length, role=side) for side in SIDES)

    @in_reals
    def results(
        self, stacks: Sequence[Stack], _unmet: Sequence[Unmet] = ()
    ) -> "ExternalTaperResult":
        """What to expect over the rolls, and the angle from what was measured."""
        found = tuple(s for side in SIDES if (s := built(stacks, self.name_of(side))))
        # The slope is over the mean of both lifts; one stack alone says nothing of it.
        height = sum(s.length for s in found) // 2 if len(found) == len(SIDES) else None
        low, pressed = self.expected_low(), self.pressed()
        angle = self._measured_angle(height or self.stack_length)
        return ExternalTaperResult(
            target=self.ref,
            remarks=(*temperature_remarks(stacks), *pressed.remarks(), *taper_remarks(self.taper)),
            taper=found_taper(self.wanted_angle, self.taper),
            stacks=found,
            expected_low=low,
            expected_high=low + self.rise(height or self.stack_length),
            # By the slope of 2 atan(x / 2H), with x the rise over the rolls: cos² a / H.
            sensitivity=seconds_a_micrometre(cos(self.half_of()) ** 2 / self.stack_length),
            measured_angle=angle,
            angle_error=None if angle is None else angle - self.wanted_angle,
            measured_small_end=self._measured_small_end(angle),
            angle_budget=self._budget(stacks, angle),
            compression=pressed.compression,
            compression_limits=pressed.compression_limits,
        )

    def pressed(self) -> PressedRolls:
        """Both rolls, measured over."""
        # The same on the plate and on the stacks: the angle does not depend on it.
        return PressedRolls(
            contact=self.contact, diameters=(self.roll_diameter,) * len(SIDES), faces=True
        )

    @in_reals
    def expected_low(self) -> int:
        """What is measured over the rolls on the plate."""
        size = self.small_end + _widening(self.roll_diameter, self.half_of())
        return size + self.pressed().longer

    @in_reals
    def rise(self, height: int) -> int:
        """How much larger the size over the rolls is on stacks of a length."""
        return nearest(2 * height * tan(self.half_of()))

    @in_reals
    def _measured_angle(self, height: int) -> int | None:
        if self.measured_low is None or self.measured_high is None:
            return None
        # Decimals here, as a quotient of whole quanta is seldom whole.
        slope = Decimal(self.measured_high - self.measured_low) / (2 * height)
        return from_radians(2 * atan(slope))

    @in_reals
    def _measured_small_end(self, angle: int | None) -> int | None:
        if angle is None or self.measured_low is None:
            return None
        size = self.measured_low - self.pressed().longer
        return size - _widening(self.roll_diameter, self.half_of(angle))

    @in_reals
    def _budget(self, stacks: Sequence[Stack], angle: int | None) -> AngleBudget | None:
        left, right = (in_use(stacks, self.name_of(side)) for side in SIDES)
        if left is None or right is None:
            return None
        half = self.half_of(angle)
        size, height = of_expanded(self.size_uncertainty), Decimal(self.stack_length)
        # From tan a = (M2 - M1) / 2H, with H the mean of both stacks.
        by_size, by_stack = cos(half) ** 2 / height, -sin(2 * half) / (2 * height)
        return angle_budget(
            (
                ("measured_low", size, -by_size),
                ("measured_high", size, by_size),
                ("left", of_stack(left), by_stack),
                ("right", of_stack(right), by_stack),
            )
        )


class ExternalTaperResult(MeasuredTaperResult, frozen=True, kw_only=True, tag="external_taper"):
    """Sizes over the rolls, and the taper that was measured."""

    expected_low: Annotated[Length, Meta(description="Size over the rolls on the plate.")]
    expected_high: Annotated[Length, Meta(description="Size over the rolls on the stacks.")]
    measured_small_end: Annotated[
        Length | None, Meta(description="Diameter at the plate, from the measurements.")
    ] = None
    compression: Compression = None
    compression_limits: CompressionLimits = None


def _widening(roll: int, half: Decimal) -> int:
    """Size over two rolls in the corners between plate and cone, less the cone's diameter there."""
    return nearest(roll * (1 + tan(half) + 1 / cos(half)))
