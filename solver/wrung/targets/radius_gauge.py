"""The radius of an arc, by equal rolls on a plate or in the arc.

Convex, the arc stands on the plate with a roll of diameter d touching both at each side: over the
rolls M = d + 2 √(2 R d), so R = (M - d)² / 8d. In textbooks of engineering metrology, and on the
web with its derivation. Concave, three rolls lie side by side in the arc: a straight edge over the
outer two lies h = d² / (2R - d) above the middle one. By the chord between neighbouring centres.
"""

from collections.abc import Iterator, Sequence
from decimal import Decimal
from typing import Annotated, ClassVar, Literal

from msgspec import Meta

from wrung.angles import RIGHT_ANGLE, from_radians
from wrung.answers import Stack, Unmet
from wrung.errors import Fault, not_negative, positive, unless
from wrung.measures import Angle, Length, Margin
from wrung.real import acos, asin, in_reals, nearest
from wrung.targets.contributions import SizeInput, size_input, uncertainty_of
from wrung.targets.roll_contact import (
    Compression,
    CompressionLimits,
    PressedRolls,
    Pressing,
)
from wrung.targets.size import FoundSize, SizeResult, SizeTarget


class RadiusGaugeTarget(SizeTarget, frozen=True, kw_only=True, tag="radius_gauge"):
    """A stack for the radius of an arc: the size over two rolls beside it, or above one in it.

    In Python, lengths are in quanta of 0.01 nm, see `wrung.mm` and `wrung.inch`.

    >>> target = RadiusGaugeTarget(ref="template", form="convex", radius=mm("40"),
    ...     roll_diameter=mm("10"))
    >>> [to_text(each.length, "mm") for each in target.requirements()]
    ['66.569']
    """

    size_member: ClassVar[str] = "radius"
    cautions: ClassVar[tuple[str, ...]] = ("caution.light_touch", "caution.burr")

    form: Annotated[
        Literal["convex", "concave"],
        Meta(
            description="`convex`: the arc stands on the plate, a roll at each side; the stack is "
            "the size over both. `concave`: three rolls side by side in the arc; the stack fits "
            "between the middle one and a straight edge over the outer two."
        ),
    ]
    radius: Annotated[Length, Meta(description="Wanted radius of the arc.")]
    roll_diameter: Annotated[Length, Meta(description="Diameter of the rolls, which are equal.")]
    arc: Annotated[
        Angle | None,
        Meta(description="Angle from end to end of the arc, to check that the rolls touch it."),
    ] = None
    roll_uncertainty: Annotated[Margin, uncertainty_of("the diameter of the rolls")] = 0
    contact: Pressing = None

    @in_reals
    def exact_length(self) -> int:
        """Size over the rolls, or gap above the middle one, to the nearest quantum."""
        roll = Decimal(self.roll_diameter)
        if self.form == "convex":
            return nearest(roll + 2 * (2 * self.radius * roll).sqrt())
        return nearest(roll * roll / (2 * self.radius - roll))

    @in_reals
    def size_with(self, length: int) -> int | None:
        """The radius for which that is the size over the rolls, or the gap."""
        roll = Decimal(self.roll_diameter)
        if length <= (roll if self.form == "convex" else 0):
            return None
        if self.form == "convex":
            return nearest((length - roll) ** 2 / (8 * roll))
        return nearest((roll * roll / length + roll) / 2)

    @in_reals
    def slope(self) -> Decimal:
        """Change of the radius over that of the stack."""
        roll, length = Decimal(self.roll_diameter), Decimal(self.exact_length())
        if self.form == "convex":
            return (length - roll) / (4 * roll)
        return -roll * roll / (2 * length * length)

    @in_reals
    def inputs(self) -> tuple[SizeInput, ...]:
        """The rolls."""
        roll, length = Decimal(self.roll_diameter), Decimal(self.exact_length())
        reach = (length - roll) / roll
        convex = self.form == "convex"
        change = -reach / 4 - reach * reach / 8 if convex else roll / length + Decimal("0.5")
        return (size_input("roll_diameter", self.roll_uncertainty, change),)

    def faults(self) -> Iterator[Fault | None]:
        """Sizes that are none, and rolls that do not touch the arc."""
        yield from positive(self, "radius", "roll_diameter")
        yield from not_negative(self, "roll_uncertainty")
        whole = self.arc is None or 0 < self.arc <= 4 * RIGHT_ANGLE
        yield unless(whole, "arc", "must be greater than 0 and at most 360 degrees")
        if min(self.radius, self.roll_diameter) <= 0 or not whole:
            return
        deep = self.form == "concave" and self._too_deep()
        yield unless(not deep, "roll_diameter", "the rolls are so large that they do not lie in it")
        if not deep:
            yield unless(
                self.arc is None or self.contact_arc() <= self.arc,
                "roll_diameter",
                "the rolls are so large that they touch beyond the ends of the arc",
            )

    def pressed(self) -> PressedRolls:
        """Both rolls beside the arc, or the middle one in it, which the stack stands on."""
        over = self.form == "convex"
        return PressedRolls(
            contact=self.contact,
            diameters=(self.roll_diameter,) * (2 if over else 1),
            faces=over,
        )

    def too_short(self) -> tuple[str, str]:
        """The gap above the middle roll is less than half a step."""
        return "roll_diameter", "the rolls are so small that they leave no gap for a stack"

    def results(self, stacks: Sequence[Stack], _unmet: Sequence[Unmet] = ()) -> "RadiusGaugeResult":
        """The radius that the stack as built stands for."""
        pressed = self.pressed()
        return RadiusGaugeResult(
            **self.in_common(stacks),
            radius=self.found(stacks),
            contact_arc=self.contact_arc(),
            compression=pressed.compression,
            compression_limits=pressed.compression_limits,
        )

    @in_reals
    def contact_arc(self) -> int:
        """Angle of the arc from one outer roll to the other."""
        half, radius = Decimal(self.roll_diameter) / 2, Decimal(self.radius)
        if self.form == "convex":
            return from_radians(2 * acos((radius - half) / (radius + half)))
        return from_radians(4 * asin(half / (radius - half)))

    def _too_deep(self) -> bool:
        """Whether the outer rolls would lie beyond a half circle, where an arc holds none."""
        free = 2 * self.radius - self.roll_diameter
        return free < self.roll_diameter or self.contact_arc() > 2 * RIGHT_ANGLE


class RadiusGaugeResult(SizeResult, frozen=True, kw_only=True, tag="radius_gauge"):
    """The radius of an arc, by rolls."""

    radius: Annotated[FoundSize, Meta(description="The radius.")]
    contact_arc: Annotated[
        Angle, Meta(description="Angle of the arc between the outer points of contact.")
    ]
    compression: Compression = None
    compression_limits: CompressionLimits = None
