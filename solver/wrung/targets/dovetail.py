"""A dovetail measured over or between two equal rolls in its corners.

With the flank at the angle A to the floor, a roll of diameter d touches both at
d/2 cot(A/2) from the corner. Over the rolls of a male dovetail M = W + d (1 + cot(A/2)), between
those of a female one M = W - d (1 + cot(A/2)), with W the width across the sharp corners in which
the rolls lie (Machinery's Handbook, measuring dovetail slides; as quoted on the web).
"""

from collections.abc import Sequence
from decimal import Decimal
from typing import Annotated, ClassVar, Literal

from msgspec import Meta

from wrung.angles import MINUTE, RIGHT_ANGLE, radians
from wrung.answers import Stack, Unmet
from wrung.errors import not_negative, positive, require, unless
from wrung.measures import SENSITIVITY_STEP, Angle, Deviation, Length, Margin, Ratio, Seconds
from wrung.real import cos, in_reals, nearest, sin, tan
from wrung.targets.contributions import SizeBudget, SizeInput, size_input, uncertainty_of
from wrung.targets.requirement import Requirement
from wrung.targets.roll_contact import (
    Compression,
    CompressionLimits,
    PressedRolls,
    Pressing,
)
from wrung.targets.size import ComparedTarget, SizeResult
from wrung.targets.steps import to_step


class DovetailTarget(ComparedTarget, frozen=True, kw_only=True, tag="dovetail"):
    """A stack for the size over, or between, two rolls in the corners of a dovetail.

    In Python, lengths are in quanta of 0.01 nm, see `wrung.mm` and `wrung.inch`,
    and angles in quanta of 1e-9 seconds of arc, see `wrung.angle`.

    >>> target = DovetailTarget(ref="slide", form="female", angle=angle("60"), width=mm("50"),
    ...     roll_diameter=mm("8"), step=mm("0.001"))
    >>> [to_text(each.length, "mm") for each in target.requirements()]
    ['28.144']
    """

    cautions: ClassVar[tuple[str, ...]] = ("caution.spindle", "caution.light_touch", "caution.burr")

    form: Annotated[
        Literal["male", "female"],
        Meta(description="`male`: size over the rolls. `female`: the stack goes between them."),
    ]
    angle: Annotated[Angle, Meta(description="Angle of the flank to the floor, such as 60.")]
    width: Annotated[
        Length, Meta(description="Width between the sharp corners where the rolls lie.")
    ]
    roll_diameter: Annotated[Length, Meta(description="Diameter of both rolls.")]
    depth: Annotated[
        Length | None, Meta(description="Height of the flank, to check that the rolls touch it.")
    ] = None
    roll_uncertainty: Annotated[Margin, uncertainty_of("the rolls, which are equal")] = 0
    angle_uncertainty: Annotated[Seconds, uncertainty_of("the angle, in seconds")] = 0
    contact: Pressing = None

    def requirements(self) -> tuple[Requirement, ...]:
        """The stack for the size over or between the rolls."""
        self._check()
        return (self.stack(self._stack_length()),)

    @in_reals
    def results(self, stacks: Sequence[Stack], _unmet: Sequence[Unmet] = ()) -> "DovetailResult":
        """The width that the stack as built corresponds to, and what changes it."""
        common = self.in_common(stacks)
        stack, exact, pressed = common["stack"], self.over_rolls(), self.pressed()
        # The rolls' share does not change with the width, so both differ by the same.
        error = None if stack is None else stack.length - pressed.longer - exact
        return DovetailResult(
            **common,
            over_rolls=exact,
            width=None if error is None else self.width + error,
            error=error,
            contact_height=self.contact_height(),
            roll_factor=_factor(self.angle).quantize(SENSITIVITY_STEP),
            size_change_per_minute=nearest(self._turned() * radians(MINUTE)),
            width_budget=self.budget(stacks),
            compression=pressed.compression,
            compression_limits=pressed.compression_limits,
        )

    @in_reals
    def over_rolls(self) -> int:
        """Size over or between the rolls, to the nearest quantum."""
        reach = nearest(self.roll_diameter * _factor(self.angle))
        return self.width + (reach if self.form == "male" else -reach)

    def pressed(self) -> PressedRolls:
        """Both rolls, with the stack between them or measured over."""
        over = self.form == "male"
        return PressedRolls(contact=self.contact, diameters=(self.roll_diameter,) * 2, faces=over)

    def _stack_length(self) -> int:
        return to_step(self.over_rolls() + self.pressed().longer, self.step)

    @in_reals
    def contact_height(self) -> int:
        """Height above the floor at which a roll touches the flank."""
        # The roll's centre is at d/2, its point of contact d/2 cos A higher: d cos²(A/2) in all.
        return nearest(self.roll_diameter * cos(radians(self.angle) / 2) ** 2)

    @in_reals
    def inputs(self) -> tuple[SizeInput, ...]:
        """The rolls, and the flank's angle."""
        sign = 1 if self.form == "male" else -1
        return (
            size_input("roll_diameter", self.roll_uncertainty, -sign * _factor(self.angle)),
            size_input("angle", self.angle_uncertainty, sign * self._turned(), is_angle=True),
        )

    @in_reals
    def _turned(self) -> Decimal:
        """Change of the size over the rolls for a radian of the angle."""
        # By the slope of cot(A/2), which is 1 / (2 sin²(A/2)); its sign is left out.
        return self.roll_diameter / (2 * sin(radians(self.angle) / 2) ** 2)

    def _check(self) -> None:
        require(
            unless(
                0 < self.angle < RIGHT_ANGLE,
                "angle",
                "must be greater than 0 and less than 90 degrees",
            ),
            *positive(self, "width", "roll_diameter"),
            *not_negative(self, "roll_uncertainty", "angle_uncertainty"),
            *self._common_faults(),
        )
        # Only now, as the size over the rolls divides by a tangent that is 0 for an angle of 0.
        require(
            unless(
                self._stack_length() > 0,
                "roll_diameter",
                "the rolls are so large that they leave no gap",
            ),
            unless(
                self.depth is None or self.contact_height() <= self.depth,
                "roll_diameter",
                "the rolls are so large that they do not touch the flanks below their edge",
            ),
        )


class DovetailResult(SizeResult, frozen=True, kw_only=True, tag="dovetail"):
    """The size of a dovetail, from a stack over or between the rolls."""

    over_rolls: Annotated[Length, Meta(description="Size over or between the rolls, exactly.")]
    width: Annotated[
        Length | None,
        Meta(description="Width of the dovetail that the stack as built corresponds to."),
    ]
    error: Annotated[Deviation | None, Meta(description="That width less the wanted one.")]
    contact_height: Annotated[
        Length, Meta(description="Height above the floor at which the rolls touch.")
    ]
    roll_factor: Annotated[
        Ratio, Meta(description="Change of the size over a change of both roll diameters.")
    ]
    size_change_per_minute: Annotated[
        Margin, Meta(description="Change of the size for one minute of the flank's angle.")
    ]
    width_budget: Annotated[
        SizeBudget | None, Meta(description="How uncertain the width is, by these inputs.")
    ] = None
    compression: Compression = None
    compression_limits: CompressionLimits = None


@in_reals
def _factor(angle: int) -> Decimal:
    """1 + cot(half the angle)."""
    return 1 + 1 / tan(radians(angle) / 2)
