"""The distance of a hole from another hole or from an edge, by pins or toolmaker's buttons.

With d1 and d2 the diameters of the pins, the stack between them is C - (d1 + d2) / 2 and the size
over them is C + (d1 + d2) / 2. Against an edge the one pin counts alone. Plain geometry; common
practice for boring to buttons.
"""

from collections.abc import Iterator, Sequence
from decimal import Decimal
from fractions import Fraction
from typing import Annotated, ClassVar, Literal

from msgspec import Meta

from wrung.answers import Stack, Unmet
from wrung.errors import Fault, not_negative, positive, unless
from wrung.measures import Length, Margin
from wrung.targets.contributions import SizeInput, of_limits, size_input, uncertainty_of
from wrung.targets.roll_contact import (
    Compression,
    CompressionLimits,
    PressedRolls,
    Pressing,
)
from wrung.targets.size import FoundSize, SizeResult, SizeTarget


class CentreDistanceTarget(SizeTarget, frozen=True, kw_only=True, tag="centre_distance"):
    """A stack between or over pins in two holes, or between a pin and an edge.

    Toolmaker's buttons count as pins.

    In Python, lengths are in quanta of 0.01 nm, see `wrung.mm` and `wrung.inch`.

    >>> target = CentreDistanceTarget(ref="jig", centre_distance=mm("60"), first_pin=mm("10"),
    ...     second_pin=mm("12"))
    >>> [to_text(each.length, "mm") for each in target.requirements()]
    ['49']
    """

    size_member: ClassVar[str] = "centre_distance"
    cautions: ClassVar[tuple[str, ...]] = ("caution.spindle", "caution.burr")

    centre_distance: Annotated[
        Length, Meta(description="Wanted distance from the hole's axis to the other, or the edge.")
    ]
    first_pin: Annotated[Length, Meta(description="Diameter of the pin or button in the hole.")]
    second_pin: Annotated[
        Length | None,
        Meta(description="Diameter of that in the other hole; left out, it is as the first."),
    ] = None
    measured_to: Annotated[
        Literal["hole", "edge"], Meta(description="Whether to another hole or to an edge.")
    ] = "hole"
    stack_position: Annotated[
        Literal["between", "over"],
        Meta(
            description="`between`: the stack fits between the pins, or the pin and the edge. "
            "`over`: the stack is the size over them."
        ),
    ] = "between"
    pin_uncertainty: Annotated[Margin, uncertainty_of("the diameter of each pin")] = 0
    pin_clearance: Annotated[
        Margin,
        Meta(
            description="Diameter of a hole less that of its pin, if the pin may sit anywhere in "
            "it; it counts as uncertainty."
        ),
    ] = 0
    contact: Pressing = None

    def exact_length(self) -> int:
        """The stack for just the wanted distance, to the nearest quantum."""
        return self.centre_distance + self._sign * self._radii()

    def size_with(self, length: int) -> int:
        """The distance that a stack stands for."""
        return length - self._sign * self._radii()

    def inputs(self) -> tuple[SizeInput, ...]:
        """The pins, and where they sit in their holes."""
        half = Decimal(-self._sign) / 2
        first = size_input("first_pin", self.pin_uncertainty, half)
        second = size_input("second_pin", self.pin_uncertainty, half)
        # An axis lies within half the clearance of its hole's; several pins are independent.
        pins = len(self._diameters())
        place = of_limits(Decimal(self.pin_clearance) / 2) * Decimal(pins).sqrt()
        clearance = SizeInput(
            quantity="pin_clearance", standard_uncertainty=place, sensitivity=Decimal(1)
        )
        return (first, second, clearance) if pins > 1 else (first, clearance)

    def faults(self) -> Iterator[Fault | None]:
        """Sizes that are none."""
        yield from positive(self, "centre_distance", "first_pin", "second_pin")
        yield unless(
            self.second_pin is None or self.measured_to == "hole",
            "second_pin",
            "there is only one pin where the distance is to an edge",
        )
        yield from not_negative(self, "pin_uncertainty", "pin_clearance")

    def pressed(self) -> PressedRolls:
        """The pins; an edge is flat, and gives no way."""
        return PressedRolls(
            contact=self.contact,
            diameters=self._diameters(),
            faces=self.stack_position == "over",
        )

    def too_short(self) -> tuple[str, str]:
        """The pins would touch or overlap."""
        return "centre_distance", "the pins leave no room for a stack between them"

    def results(
        self, stacks: Sequence[Stack], _unmet: Sequence[Unmet] = ()
    ) -> "CentreDistanceResult":
        """The distance that the stack as built stands for."""
        pressed = self.pressed()
        return CentreDistanceResult(
            **self.in_common(stacks),
            centre_distance=self.found(stacks),
            compression=pressed.compression,
            compression_limits=pressed.compression_limits,
        )

    @property
    def _sign(self) -> int:
        return 1 if self.stack_position == "over" else -1

    def _diameters(self) -> tuple[int, ...]:
        if self.measured_to == "edge":
            return (self.first_pin,)
        return (self.first_pin, self.first_pin if self.second_pin is None else self.second_pin)

    def _radii(self) -> int:
        return round(Fraction(sum(self._diameters()), 2))


class CentreDistanceResult(SizeResult, frozen=True, kw_only=True, tag="centre_distance"):
    """A distance of holes, from a stack between or over pins."""

    centre_distance: Annotated[FoundSize, Meta(description="The distance.")]
    compression: Compression = None
    compression_limits: CompressionLimits = None
