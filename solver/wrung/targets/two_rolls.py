"""An angle by two unequal rolls with a stack between them.

With a straight edge on each side of both rolls and the stack along the line of their centres,
sin(half the angle) = (D - d) / 2C. With both rolls on a plate, the stack lying on it, and a
straight edge over them, tan(half the angle to the plate) = (D - d) / 2C. In both cases
C = stack + (D + d) / 2, less what a force presses stack and rolls into each other. Standard in
every textbook of workshop metrology, but for the force.
"""

from collections.abc import Sequence
from decimal import Decimal
from typing import Annotated, ClassVar, Literal

from msgspec import Meta

from wrung.angles import DEGREE, SECOND, from_radians, radians
from wrung.answers import Stack, Unmet
from wrung.errors import greater, not_negative, positive, require, unless
from wrung.lengths import QUANTA
from wrung.measures import SENSITIVITY_STEP, Angle, Length, Margin, Seconds, Sensitivity
from wrung.real import asin, atan, cos, in_reals, nearest, sin, tan
from wrung.targets.base import RoundingStep, StackTarget, TargetResult
from wrung.targets.built import BudgetedStack, BuiltLength, built, in_use, temperature_remarks
from wrung.targets.contributions import (
    AngleBudget,
    BudgetInput,
    angle_budget,
    of_expanded,
    of_stack,
    uncertainty_of,
)
from wrung.targets.requirement import Requirement
from wrung.targets.roll_contact import (
    Compression,
    CompressionLimits,
    PressedRolls,
    Pressing,
)
from wrung.targets.steps import to_step

_WIDEST = 180 * DEGREE


class TwoRollsTarget(StackTarget, frozen=True, kw_only=True, tag="two_rolls"):
    """A stack between two rolls that sets straight edges over them to an angle.

    In Python, lengths are in quanta of 0.01 nm, see `wrung.mm` and `wrung.inch`,
    and angles in quanta of 1e-9 seconds of arc, see `wrung.angle`.

    >>> target = TwoRollsTarget(ref="v", angle=angle("20"), large_roll=mm("25"),
    ...     small_roll=mm("10"), step=mm("0.001"))
    >>> [to_text(each.length, "mm") for each in target.requirements()]
    ['25.035']
    """

    cautions: ClassVar[tuple[str, ...]] = ("caution.light_touch",)

    angle: Annotated[Angle, Meta(description="The wanted angle.")]
    large_roll: Annotated[Length, Meta(description="Diameter of the larger roll.")]
    small_roll: Annotated[Length, Meta(description="Diameter of the smaller roll.")]
    arrangement: Annotated[
        Literal["straight_edges", "on_plate"],
        Meta(
            description="`straight_edges`: one on each side, the stack along the line of centres. "
            "`on_plate`: rolls and stack lie on a plate, a straight edge over both rolls."
        ),
    ] = "on_plate"
    roll_uncertainty: Annotated[Margin, uncertainty_of("the diameter of each roll")] = 0
    contact: Pressing = None
    step: RoundingStep = None

    def requirements(self) -> tuple[Requirement, ...]:
        """The stack between the rolls."""
        self._check()
        length = to_step(self.exact_length(), self.step)
        detail = (
            "the rolls would touch or overlap: the difference of their diameters is too small "
            "for this angle"
        )
        require(unless(length > 0, "angle", detail))
        return (self.stack(length),)

    def results(self, stacks: Sequence[Stack], _unmet: Sequence[Unmet] = ()) -> "TwoRollsResult":
        """The angle that the stack as built gives."""
        stack = built(stacks, self.name_of())
        reached = None if stack is None else self.angle_with(stack.length)
        pressed = self.pressed()
        return TwoRollsResult(
            target=self.ref,
            remarks=(*temperature_remarks(stacks), *pressed.remarks()),
            stack=stack,
            exact_length=self.exact_length(),
            sensitivity=self.sensitivity(),
            angle_reached=reached,
            error=None if reached is None else reached - self.angle,
            uncertainty=None if stack is None else self._uncertainty(stack.margin),
            angle_budget=self._budget(in_use(stacks, self.name_of())),
            compression=pressed.compression,
            compression_limits=pressed.compression_limits,
        )

    @in_reals
    def exact_length(self) -> int:
        """The stack for just this angle, to the nearest quantum; negative if rolls overlap."""
        between = self._centres() - Decimal(self.large_roll + self.small_roll) / 2
        return nearest(between) + self.pressed().longer

    @in_reals
    def angle_with(self, length: int) -> int:
        """The angle that a stack of a length gives."""
        between = Decimal(length - self.pressed().longer)
        centres = between + Decimal(self.large_roll + self.small_roll) / 2
        ratio = Decimal(self.large_roll - self.small_roll) / 2 / centres
        half = asin(ratio) if self.arrangement == "straight_edges" else atan(ratio)
        return from_radians(2 * half)

    @in_reals
    def sensitivity(self) -> Decimal:
        """How much the angle falls for each 1 µm more of stack, in seconds."""
        # By a whole µm and not by the slope, as this is what one more µm of stack really does.
        turned = self.angle - self.angle_with(self.exact_length() + QUANTA["um"])
        return (Decimal(turned) / SECOND).quantize(SENSITIVITY_STEP)

    @in_reals
    def _uncertainty(self, margin: int) -> int:
        half = radians(self.angle) / 2
        # By the slopes of asin(k / C) and atan(k / C) over C; their sign is left out.
        slope = tan(half) if self.arrangement == "straight_edges" else sin(half) * cos(half)
        return from_radians(2 * slope * margin / self._centres())

    def _centres(self) -> Decimal:
        """The distance of the centres for just the wanted angle."""
        half = radians(self.angle) / 2
        ratio = sin(half) if self.arrangement == "straight_edges" else tan(half)
        return Decimal(self.large_roll - self.small_roll) / 2 / ratio

    def pressed(self) -> PressedRolls:
        """Both rolls, with the stack between them."""
        return PressedRolls(contact=self.contact, diameters=(self.large_roll, self.small_roll))

    @in_reals
    def _budget(self, used: BudgetedStack | None) -> AngleBudget | None:
        if used is None:
            return None
        half, roll = radians(self.angle) / 2, of_expanded(self.roll_uncertainty)
        centres = self._centres()
        # With q = (D - d) / 2C, and g the slope of asin or atan at q.
        edges = self.arrangement == "straight_edges"
        q, g = (sin(half), 1 / cos(half)) if edges else (tan(half), cos(half) ** 2)
        of_length = -2 * g * q / centres
        rows: list[tuple[BudgetInput, Decimal, Decimal]] = [
            ("stack", of_stack(used), of_length),
            ("large_roll", roll, g * (1 - q) / centres),
            ("small_roll", roll, -g * (1 + q) / centres),
        ]
        if (pressed := self.pressed().standard_uncertainty()) is not None:
            rows.append(("compression", pressed, -of_length))
        return angle_budget(rows)

    def _check(self) -> None:
        require(
            unless(
                0 < self.angle < _WIDEST,
                "angle",
                "must be greater than 0 and less than 180 degrees",
            ),
            *not_negative(self, "roll_uncertainty"),
            *positive(self, "small_roll"),
            *self.pressed().faults(),
            greater(self, "large_roll", than="small_roll"),
        )


class TwoRollsResult(TargetResult, frozen=True, kw_only=True, tag="two_rolls"):
    """The angle of straight edges over two rolls."""

    stack: Annotated[BuiltLength | None, Meta(description="The stack as built, if it was.")]
    exact_length: Annotated[
        Length, Meta(description="Exact length of the stack for the wanted angle.")
    ]
    sensitivity: Annotated[
        Sensitivity,
        Meta(
            description="How much the angle falls for each 1 µm, or 0.0001 in, more "
            "of stack, in seconds."
        ),
    ]
    angle_reached: Annotated[Angle | None, Meta(description="The angle of the stack as built.")]
    error: Annotated[Seconds | None, Meta(description="That angle less the wanted one.")]
    uncertainty: Annotated[
        Seconds | None, Meta(description="Worst-case error of the angle reached, from the stack.")
    ]
    angle_budget: Annotated[
        AngleBudget | None, Meta(description="How uncertain the angle reached is.")
    ] = None
    compression: Compression = None
    compression_limits: CompressionLimits = None
