"""A height above the plate: a stack, alone or on a riser, to set a height gauge or an indicator."""

from collections.abc import Iterator, Sequence
from decimal import Decimal
from typing import Annotated, ClassVar

from msgspec import Meta

from wrung.answers import Stack, Unmet
from wrung.errors import Fault, not_negative, positive, unless
from wrung.measures import Length, Margin
from wrung.targets.contributions import SizeInput, size_input, uncertainty_of
from wrung.targets.size import FoundSize, SizeResult, SizeTarget


class HeightSettingTarget(SizeTarget, frozen=True, kw_only=True, tag="height_setting"):
    """A stack whose upper face stands at a height above the plate.

    In Python, lengths are in quanta of 0.01 nm, see `wrung.mm` and `wrung.inch`.

    >>> target = HeightSettingTarget(ref="jig", height=mm("187.25"), riser=mm("150"))
    >>> [to_text(each.length, "mm") for each in target.requirements()]
    ['37.25']
    """

    size_member: ClassVar[str] = "height"
    cautions: ClassVar[tuple[str, ...]] = ("caution.burr",)
    stands: ClassVar[bool] = True
    takes_step: ClassVar[bool] = True

    height: Annotated[Length, Meta(description="Wanted height above the plate.")]
    riser: Annotated[
        Length, Meta(description="Height of a riser block below the stack; 0 without one.")
    ] = 0
    riser_uncertainty: Annotated[Margin, uncertainty_of("the riser's height")] = 0

    def exact_length(self) -> int:
        """What the riser leaves of the height."""
        return self.height - self.riser

    def size_with(self, length: int) -> int:
        """The height that a stack reaches."""
        return length + self.riser

    def inputs(self) -> tuple[SizeInput, ...]:
        """The riser, if there is one."""
        riser = size_input("riser", self.riser_uncertainty, Decimal(1))
        return (riser,) if self.riser else ()

    def faults(self) -> Iterator[Fault | None]:
        """Sizes that are none."""
        yield from positive(self, "height")
        yield from not_negative(self, "riser", "riser_uncertainty")
        yield unless(
            self.riser > 0 or self.riser_uncertainty == 0, "riser_uncertainty", "needs a riser"
        )

    def too_short(self) -> tuple[str, str]:
        """The riser is as high, or higher."""
        return "riser", "the riser leaves no height for a stack"

    def results(
        self, stacks: Sequence[Stack], _unmet: Sequence[Unmet] = ()
    ) -> "HeightSettingResult":
        """The height that the stack as built reaches."""
        return HeightSettingResult(
            **self.in_common(stacks),
            height=self.found(stacks),
        )


class HeightSettingResult(SizeResult, frozen=True, kw_only=True, tag="height_setting"):
    """A height above the plate, from a stack."""

    height: Annotated[FoundSize, Meta(description="The height.")]
