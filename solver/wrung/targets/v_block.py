"""A cylinder in a V-block, by the height over it.

With A the included angle of the V, a cylinder of diameter D rises above the sharp vertex of the V
by D/2 (1 + 1/sin(A/2)). The vertex is seldom there to be measured: a known cylinder in the same
V-block serves as well, as the heights over both differ by half that times the difference of their
diameters. Plain geometry; in textbooks of workshop metrology.
"""

from collections.abc import Iterator, Sequence
from decimal import Decimal
from typing import Annotated, ClassVar

from msgspec import Meta

from wrung.angles import DEGREE, RIGHT_ANGLE, radians
from wrung.answers import Stack, Unmet
from wrung.errors import Fault, not_negative, positive, unless
from wrung.measures import Angle, Length, Margin, Seconds
from wrung.real import cos, in_reals, nearest, sin
from wrung.targets.contributions import SizeInput, size_input, uncertainty_of
from wrung.targets.size import FoundSize, SizeResult, SizeTarget


class VBlockTarget(SizeTarget, frozen=True, kw_only=True, tag="v_block"):
    """A stack as high as a cylinder in a V-block.

    In Python, lengths are in quanta of 0.01 nm, see `wrung.mm` and `wrung.inch`,
    and angles in quanta of 1e-9 seconds of arc, see `wrung.angle`.

    >>> target = VBlockTarget(ref="shaft", cylinder_diameter=mm("30"), vertex_height=mm("12"))
    >>> [to_text(each.length, "mm") for each in target.requirements()]
    ['48.213']
    """

    size_member: ClassVar[str] = "cylinder_diameter"
    cautions: ClassVar[tuple[str, ...]] = ("caution.burr",)
    stands: ClassVar[bool] = True
    takes_step: ClassVar[bool] = True

    cylinder_diameter: Annotated[Length, Meta(description="Wanted diameter of the cylinder.")]
    included_angle: Annotated[Angle, Meta(description="Included angle of the V.")] = RIGHT_ANGLE
    vertex_height: Annotated[
        Length | None,
        Meta(description="Height of the sharp vertex of the V above the plate, if it is known."),
    ] = None
    master_diameter: Annotated[
        Length | None,
        Meta(description="Diameter of a known cylinder in the V, in place of `vertex_height`."),
    ] = None
    master_height: Annotated[
        Length | None, Meta(description="Height over that cylinder above the plate.")
    ] = None
    height_uncertainty: Annotated[
        Margin,
        uncertainty_of("`vertex_height` or `master_height`"),
    ] = 0
    master_uncertainty: Annotated[Margin, uncertainty_of("`master_diameter`")] = 0
    angle_uncertainty: Annotated[Seconds, uncertainty_of("the angle, in seconds")] = 0

    @in_reals
    def exact_length(self) -> int:
        """The height over the wanted cylinder, to the nearest quantum."""
        known, height = self._reference()
        return nearest(height + (self.cylinder_diameter - known) / self.slope())

    @in_reals
    def size_with(self, length: int) -> int:
        """The diameter of a cylinder that is as high as a stack."""
        known, height = self._reference()
        return nearest(known + (length - height) * self.slope())

    @in_reals
    def slope(self) -> Decimal:
        """The diameter grows by this for each length of height."""
        return 2 / (1 + 1 / sin(radians(self.included_angle) / 2))

    @in_reals
    def inputs(self) -> tuple[SizeInput, ...]:
        """The reference, and the angle of the V."""
        _, height = self._reference()
        at, slope = self.height_uncertainty, self.slope()
        half = radians(self.included_angle) / 2
        # The slope is 2 sin a / (1 + sin a), with a half the angle.
        turned = cos(half) / (1 + sin(half)) ** 2
        rise = self.exact_length() - height
        angle = size_input("included_angle", self.angle_uncertainty, rise * turned, is_angle=True)
        if self.vertex_height is not None:
            return (size_input("vertex_height", at, -slope), angle)
        return (
            size_input("master_diameter", self.master_uncertainty, Decimal(1)),
            size_input("master_height", at, -slope),
            angle,
        )

    def faults(self) -> Iterator[Fault | None]:
        """Sizes that are none, and references that are missing or twofold."""
        yield unless(
            DEGREE <= self.included_angle < 2 * RIGHT_ANGLE,
            "included_angle",
            "must be from 1 degree to less than 180 degrees",
        )
        yield from positive(
            self, "cylinder_diameter", "vertex_height", "master_diameter", "master_height"
        )
        yield from not_negative(
            self, "height_uncertainty", "master_uncertainty", "angle_uncertainty"
        )
        masters = (self.master_diameter, self.master_height)
        diameter, height = self._reference()
        yield unless(
            masters == (None, None) if self.vertex_height is not None else None not in masters,
            "vertex_height",
            "give either this, or both master_diameter and master_height",
        )
        yield unless(
            None in masters or height >= diameter,
            "master_height",
            "is less than the diameter of that cylinder",
        )

    def too_short(self) -> tuple[str, str]:
        """The cylinder would lie below the plate."""
        return "cylinder_diameter", "would lie below the plate that heights are measured from"

    def results(self, stacks: Sequence[Stack], _unmet: Sequence[Unmet] = ()) -> "VBlockResult":
        """The diameter that the stack as built stands for."""
        return VBlockResult(
            **self.in_common(stacks),
            cylinder_diameter=self.found(stacks),
            axis_height=self.exact_length() - self.cylinder_diameter // 2,
        )

    def _reference(self) -> tuple[int, int]:
        """A diameter and the height over it; the vertex is a cylinder of no diameter."""
        if self.vertex_height is not None:
            return 0, self.vertex_height
        return self.master_diameter or 0, self.master_height or 0


class VBlockResult(SizeResult, frozen=True, kw_only=True, tag="v_block"):
    """The diameter of a cylinder in a V-block."""

    cylinder_diameter: Annotated[FoundSize, Meta(description="The diameter of the cylinder.")]
    axis_height: Annotated[
        Length, Meta(description="Height of the wanted cylinder's axis above the plate.")
    ]
