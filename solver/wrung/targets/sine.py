"""An angle by a sine bar or sine plate, on one stack or with one under either roll."""

from collections.abc import Sequence
from typing import Annotated, Final, Literal

from msgspec import Meta

from wrung.angles import DEGREE, RIGHT_ANGLE
from wrung.answers import Stack, Unmet
from wrung.errors import not_negative, positive, require, unless
from wrung.measures import Angle, Length, Measure
from wrung.targets.base import TargetResult
from wrung.targets.built import BuiltLength, built, temperature_remarks
from wrung.targets.requirement import Requirement
from wrung.targets.sine_bar import SineBar, SineBarTarget, SineSetting, setting, with_settable
from wrung.targets.taper import (
    FoundTaper,
    Taper,
    angle_member,
    found_taper,
    taper_faults,
    taper_remarks,
)
from wrung.targets.tolerance_ratios import seconds_remarks
from wrung.texts import Phrase, figure, phrase

STEEP: Final = 45 * DEGREE
"""Above this a sine bar loses accuracy so fast that the complement is set instead (common
practice, in every textbook of metrology)."""


class SineTarget(SineBarTarget, frozen=True, kw_only=True, tag="sine"):
    """A sine bar set to an angle.

    In Python, lengths are in quanta of 0.01 nm, see `wrung.mm` and `wrung.inch`,
    and angles in quanta of 1e-9 seconds of arc, see `wrung.angle`.

    >>> bar = SineBar(centre_distance=mm("100"))
    >>> target = SineTarget(ref="wedge", bar=bar, angle=angle("22°30'"), step=mm("0.001"))
    >>> [to_text(each.length, "mm") for each in target.requirements()]
    ['38.268']
    """

    bar: Annotated[SineBar, Meta(description="The sine bar or sine plate.")]
    angle: Annotated[
        Angle | None,
        Meta(
            description="The wanted angle, greater than 0 and less than 90 degrees; or `taper` in "
            "its place."
        ),
    ] = None
    taper: Annotated[Taper | None, Meta(description="The taper by its name, ratio or rate.")] = None
    taper_held: Annotated[
        Literal["on_its_side", "between_centres"],
        Meta(
            description="How the taper lies: `on_its_side` on the bar, which is then set to the "
            "included angle; `between_centres`, which sets half of it."
        ),
    ] = "on_its_side"
    complement: Annotated[
        bool,
        Meta(
            description="Whether to set 90 degrees less the angle, to work from the other "
            "side of a square."
        ),
    ] = False
    lower_stack: Annotated[
        Length | None,
        Meta(description="Length of the stack under the lower roll, if there is one."),
    ] = None

    @property
    def set_angle(self) -> int:
        """The angle that the bar is set to."""
        angle = self.wanted_angle
        return RIGHT_ANGLE - angle if self.complement else angle

    @property
    def wanted_angle(self) -> int:
        """The wanted angle, also where a taper was given."""
        if self.angle is None and self.taper is not None:
            included = self.taper.included_angle()
            return included if self.taper_held == "on_its_side" else included // 2
        return self.angle or 0

    def requirements(self) -> tuple[Requirement, ...]:
        """One stack, or ``low`` and ``high`` where both rolls stand on stacks."""
        self._check()
        length = self.bar.length(self.set_angle, self.max_angle_error, self.step)
        # Rounded to nothing, the stack would be empty and the bar flat.
        require(unless(length > 0, "angle", "needs a height of less than half a step"))
        window = self.bar.window(self.set_angle, self.max_angle_error, length)
        if self.lower_stack is None:
            return (self.stack(length, tolerance=window),)
        return (
            # The lower stack is exact: the upper one has the whole window to itself.
            self.stack(self.lower_stack, role="low"),
            self.stack(self.lower_stack + length, role="high", tolerance=window),
        )

    def results(self, stacks: Sequence[Stack], unmet: Sequence[Unmet] = ()) -> "SineResult":
        """The angle really reached, with its error and uncertainty."""
        taper, roles = self.taper, (None,) if self.lower_stack is None else ("low", "high")
        names = [self.name_of(role) for role in roles]
        found = [stack for name in names if (stack := built(stacks, name))]
        height = None
        if len(found) == len(names):
            height = found[-1].length - sum(each.length for each in found[:-1])
        # The angle comes from a difference, but errors of both stacks add at worst.
        reached = setting(self.bar, self.set_angle, height, sum(each.margin for each in found))
        return SineResult(
            target=self.ref,
            remarks=(
                *temperature_remarks(stacks),
                *self._remarks(),
                *taper_remarks(taper),
                *seconds_remarks(self.max_angle_error, reached.error, reached.uncertainty),
            ),
            setting=with_settable(reached, self.bar, unmet, names[-1], lower=self.lower_stack or 0),
            stacks=tuple(found),
            taper=None if taper is None else found_taper(taper.included_angle(), taper),
            complement=RIGHT_ANGLE - self.set_angle,
            complement_height=self.bar.height(RIGHT_ANGLE - self.set_angle),
        )

    def _check(self) -> None:
        reach = "must be greater than 0 and less than 90 degrees"
        require(*taper_faults(self.angle, self.taper, "angle"))
        require(
            *self.bar.faults("/bar"),
            unless(0 < self.wanted_angle < RIGHT_ANGLE, angle_member(self.taper, "angle"), reach),
            *positive(self, "lower_stack"),
            *not_negative(self, "max_angle_error"),
            *positive(self, "step"),
        )

    def _remarks(self) -> tuple[Phrase, ...]:
        if self.set_angle <= STEEP:
            return ()
        other = RIGHT_ANGLE - self.set_angle
        return (
            phrase(
                "sine.steep",
                figure("complement", other, Measure.ANGLE),
                figure("height", self.bar.height(other), Measure.LENGTH),
            ),
        )


class SineResult(TargetResult, frozen=True, kw_only=True, tag="sine"):
    """The angle that a sine bar is actually set to."""

    setting: Annotated[SineSetting, Meta(description="The angle to set and the one reached.")]
    stacks: Annotated[
        tuple[BuiltLength, ...], Meta(description="The stacks as built, lower first.")
    ]
    taper: Annotated[
        FoundTaper | None,
        Meta(description="The taper, in every way it is given, if it was asked for as one."),
    ] = None
    complement: Annotated[Angle, Meta(description="90 degrees less the angle to set.")]
    complement_height: Annotated[Length, Meta(description="Height that sets the complement.")]
