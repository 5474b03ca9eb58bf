"""A compound sine plate: two tilts at right angles, however the drawing states them.

The base plate turns about its hinge by A and carries a second plate, hinged at right angles to the
first, which turns by B. The view along the base hinge then shows A, the view at right angles to it
shows the angle whose tangent is tan B / cos A, and the surface is tilted to the ground by the angle
whose cosine is cos A cos B. So a drawing's views are held with tan B = tan(view) cos A; the same
compensation stands in the instructions of makers of compound sine plates, and in Machinery's
Handbook under compound angles.
"""

from collections.abc import Sequence
from decimal import Decimal
from typing import Annotated, Literal, TypeAlias

from msgspec import Meta, Struct

from wrung.angles import RIGHT_ANGLE, from_radians, radians
from wrung.answers import Stack, Unmet
from wrung.errors import not_negative, positive, require, unless
from wrung.measures import Angle, Measure, Seconds
from wrung.real import acos, atan, cos, in_reals, nearest, sin, tan
from wrung.targets.base import TargetResult
from wrung.targets.built import BuiltLength, built, temperature_remarks
from wrung.targets.requirement import Requirement
from wrung.targets.sine import STEEP
from wrung.targets.sine_bar import SineBar, SineBarTarget, SineSetting, setting, with_settable
from wrung.targets.tolerance_ratios import seconds_remarks
from wrung.texts import Phrase, figure, phrase

Given: TypeAlias = Literal["settings", "views", "true_tilt"]


class CompoundSineTarget(SineBarTarget, frozen=True, kw_only=True, tag="compound_sine"):
    """A compound sine plate set to two angles.

    In Python, lengths are in quanta of 0.01 nm, see `wrung.mm` and `wrung.inch`,
    and angles in quanta of 1e-9 seconds of arc, see `wrung.angle`.

    >>> plate = SineBar(centre_distance=mm("100"))
    >>> target = CompoundSineTarget(ref="jig", base=plate, top=plate, angles_given_as="settings",
    ...     first_angle=angle("10"), second_angle=angle("15"), step=mm("0.001"))
    >>> [to_text(each.length, "mm") for each in target.requirements()]
    ['17.365', '25.882']
    """

    base: Annotated[SineBar, Meta(description="The hinge between ground and base plate.")]
    top: Annotated[SineBar, Meta(description="The hinge between base plate and top plate.")]
    angles_given_as: Annotated[
        Given,
        Meta(
            description="What the two angles mean. `settings`: the setting of each hinge. "
            "`views`: the angles in the two side views of the drawing, along the "
            "base hinge and at right angles to it. `true_tilt`: the tilt of the "
            "surface and the direction of its steepest line, counted from the "
            "direction in which the base plate alone rises."
        ),
    ]
    first_angle: Annotated[
        Angle, Meta(description="Base setting, view along the base hinge, or true tilt.")
    ]
    second_angle: Annotated[Angle, Meta(description="Top setting, the other view, or direction.")]

    def requirements(self) -> tuple[Requirement, ...]:
        """``base`` and ``top``, less a hinge that stays flat."""
        self._check()
        return tuple(
            self._stack(bar, name, angle)
            for bar, name, angle in self._hinges()
            if self._length(bar, angle) > 0
        )

    def results(self, stacks: Sequence[Stack], unmet: Sequence[Unmet] = ()) -> "CompoundSineResult":
        """Both settings as reached, and the plane that they make."""
        found = [built(stacks, self.name_of(name)) for _, name, _ in self._hinges()]
        base, top = (
            with_settable(self._setting(bar, angle, stack), bar, unmet, self.name_of(name))
            for (bar, name, angle), stack in zip(self._hinges(), found, strict=True)
        )
        wanted, reached = plane(base.angle, top.angle), None
        if base.angle_reached is not None and top.angle_reached is not None:
            reached = plane(base.angle_reached, top.angle_reached)
        return CompoundSineResult(
            target=self.ref,
            remarks=(
                *temperature_remarks(stacks),
                *_remarks(base, top),
                *seconds_remarks(self.max_angle_error, base.error, base.uncertainty),
                *seconds_remarks(self.max_angle_error, top.error, top.uncertainty),
            ),
            base=base,
            top=top,
            wanted_plane=wanted,
            reached_plane=reached,
            tilt_error=None if reached is None else reached.true_tilt - wanted.true_tilt,
            tilt_uncertainty=_tilt_uncertainty(base, top),
            stacks=tuple(stack for stack in found if stack),
        )

    def _setting(self, bar: SineBar, angle: int, stack: BuiltLength | None) -> SineSetting:
        if stack is not None:
            return setting(bar, angle, stack.length, stack.margin)
        # A hinge without a stack lies flat if it needs none; else it is not set.
        flat = self._length(bar, angle) == 0
        return setting(bar, angle, 0 if flat else None, 0)

    def _stack(self, bar: SineBar, name: str, angle: int) -> Requirement:
        length = self._length(bar, angle)
        window = bar.window(angle, self.max_angle_error, length)
        return self.stack(length, role=name, tolerance=window)

    def _length(self, bar: SineBar, angle: int) -> int:
        return bar.length(angle, self.max_angle_error, self.step)

    def _hinges(self) -> tuple[tuple[SineBar, str, int], ...]:
        base, top = settings(self.angles_given_as, self.first_angle, self.second_angle)
        return ((self.base, "base", base), (self.top, "top", top))

    def _check(self) -> None:
        reach = "must be at least 0 and less than 90 degrees"
        first, second = self.first_angle, self.second_angle
        flat = "one of the angles must be greater than 0"
        require(
            *self.base.faults("/base"),
            *self.top.faults("/top"),
            unless(0 <= first < RIGHT_ANGLE, "first_angle", reach),
            unless(
                # A direction may point along the top's slope; a hinge cannot stand upright.
                0 <= second < RIGHT_ANGLE
                or (self.angles_given_as == "true_tilt" and second == RIGHT_ANGLE),
                "second_angle",
                reach,
            ),
            # The direction of a plane that is not tilted means nothing.
            unless(
                first > 0 or (second > 0 and self.angles_given_as != "true_tilt"),
                "first_angle",
                flat,
            ),
            *not_negative(self, "max_angle_error"),
            *positive(self, "step"),
        )


class Plane(Struct, frozen=True, kw_only=True):
    """The tilt of a surface relative to the ground."""

    true_tilt: Annotated[Angle, Meta(description="Angle of the surface to the ground.")]
    direction: Annotated[
        Angle,
        Meta(description="Of its steepest line, from where the base plate alone rises."),
    ]
    first_view: Annotated[Angle, Meta(description="Angle seen along the base hinge.")]
    second_view: Annotated[Angle, Meta(description="Angle seen at right angles to it.")]


class CompoundSineResult(TargetResult, frozen=True, kw_only=True, tag="compound_sine"):
    """Both hinges of a compound sine plate, and the plane they set."""

    base: Annotated[SineSetting, Meta(description="The base hinge.")]
    top: Annotated[SineSetting, Meta(description="The top hinge.")]
    wanted_plane: Annotated[Plane, Meta(description="The plane of the angles to set.")]
    reached_plane: Annotated[Plane | None, Meta(description="The plane of the angles reached.")]
    tilt_error: Annotated[
        Seconds | None, Meta(description="True tilt reached less the wanted one, in seconds.")
    ]
    tilt_uncertainty: Annotated[
        Seconds | None, Meta(description="Worst-case error of the true tilt, from both hinges.")
    ]
    stacks: Annotated[tuple[BuiltLength, ...], Meta(description="The stacks as built, base first.")]


@in_reals
def settings(given: Given, first: int, second: int) -> tuple[int, int]:
    """Angles to set at base and top hinge."""
    if given == "settings":
        return first, second
    a, b = radians(first), radians(second)
    base, other = tan(a), Decimal(0)
    if given == "views":
        other = tan(b)
    else:
        # Slopes are vectors: the steepest one has these parts along the two views.
        base, other = tan(a) * cos(b), tan(a) * sin(b)
    # The top hinge is itself tilted, so that it needs less than the view shows: cos A.
    return from_radians(atan(base)), from_radians(atan(other * cos(atan(base))))


@in_reals
def plane(base: int, top: int) -> Plane:
    """The plane that two settings make."""
    a, b = radians(base), radians(top)
    first, second = tan(a), tan(b) / cos(a)
    return Plane(
        true_tilt=from_radians(acos(cos(a) * cos(b))),
        # A base that lies flat leaves a slope of the top plate alone.
        direction=RIGHT_ANGLE if first == 0 else from_radians(atan(second / first)),
        first_view=base,
        second_view=from_radians(atan(second)),
    )


@in_reals
def _tilt_uncertainty(base: SineSetting, top: SineSetting) -> int | None:
    """By the slopes of acos(cos A cos B); one of the angles is greater than 0, so it has some."""
    off_a, off_b = base.uncertainty, top.uncertainty
    if off_a is None or off_b is None:
        return None
    a, b = radians(base.angle), radians(top.angle)
    # The derivative of acos x divides by the sine of the angle.
    across = sin(acos(cos(a) * cos(b)))
    return nearest((off_a * sin(a) * cos(b) + off_b * cos(a) * sin(b)) / across)


def _remarks(base: SineSetting, top: SineSetting) -> list[Phrase]:
    return [
        phrase("compound.steep", figure("angle", each.angle, Measure.ANGLE))
        for each in (base, top)
        if each.angle > STEEP
    ]
