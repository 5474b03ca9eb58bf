"""A diameter between bench centres: a stack as high as its upper side, by way of a known cylinder.

With D0 the diameter of a cylinder between the same centres and H0 the height over it, the height
over a diameter D is H0 + (D - D0) / 2. Plain geometry; common practice for comparing on centres.
"""

from collections.abc import Iterator, Sequence
from decimal import Decimal
from fractions import Fraction
from typing import Annotated, ClassVar

from msgspec import Meta

from wrung.answers import Stack, Unmet
from wrung.errors import Fault, not_negative, positive, unless
from wrung.measures import Length, Margin
from wrung.targets.contributions import SizeInput, size_input, uncertainty_of
from wrung.targets.size import FoundSize, SizeResult, SizeTarget


class BenchCentresTarget(SizeTarget, frozen=True, kw_only=True, tag="bench_centres"):
    """A stack beside bench centres, as high as the upper side of a diameter between them.

    In Python, lengths are in quanta of 0.01 nm, see `wrung.mm` and `wrung.inch`.

    >>> target = BenchCentresTarget(ref="shaft", diameter=mm("32"), master_diameter=mm("25"),
    ...     master_height=mm("87.5"))
    >>> [to_text(each.length, "mm") for each in target.requirements()]
    ['91']
    """

    size_member: ClassVar[str] = "diameter"
    cautions: ClassVar[tuple[str, ...]] = ("caution.burr",)
    stands: ClassVar[bool] = True
    takes_step: ClassVar[bool] = True

    diameter: Annotated[Length, Meta(description="Wanted diameter between the centres.")]
    master_diameter: Annotated[
        Length, Meta(description="Diameter of a known cylinder between the same centres.")
    ]
    master_height: Annotated[
        Length, Meta(description="Height over the known cylinder, above the same plate.")
    ]
    master_uncertainty: Annotated[Margin, uncertainty_of("the known cylinder's diameter")] = 0
    height_uncertainty: Annotated[Margin, uncertainty_of("the height over it")] = 0

    def exact_length(self) -> int:
        """The height over the diameter, to the nearest quantum."""
        return self.master_height + round(Fraction(self.diameter - self.master_diameter, 2))

    def size_with(self, length: int) -> int:
        """The diameter whose upper side is as high as a stack."""
        return self.master_diameter + 2 * (length - self.master_height)

    def slope(self) -> Decimal:
        """Half of the diameter is above the centres."""
        return Decimal(2)

    def inputs(self) -> tuple[SizeInput, ...]:
        """The known cylinder, and the height over it."""
        return (
            size_input("master_diameter", self.master_uncertainty, Decimal(1)),
            size_input("master_height", self.height_uncertainty, Decimal(-2)),
        )

    def faults(self) -> Iterator[Fault | None]:
        """Sizes that are none."""
        yield from positive(self, "diameter", "master_diameter", "master_height")
        yield from not_negative(self, "master_uncertainty", "height_uncertainty")
        largest = 2 * self.master_height - self.master_diameter
        for member in ("master_diameter", "diameter"):
            yield unless(
                getattr(self, member) <= largest,
                member,
                "would lie below the plate that heights are measured from",
            )

    def too_short(self) -> tuple[str, str]:
        """The centres are too low for what is said of them."""
        return "master_height", "the diameter leaves no height for a stack"

    def results(
        self, stacks: Sequence[Stack], _unmet: Sequence[Unmet] = ()
    ) -> "BenchCentresResult":
        """The diameter that the stack as built stands for."""
        return BenchCentresResult(
            **self.in_common(stacks),
            diameter=self.found(stacks),
        )


class BenchCentresResult(SizeResult, frozen=True, kw_only=True, tag="bench_centres"):
    """A diameter between bench centres, from a stack as high."""

    diameter: Annotated[FoundSize, Meta(description="The diameter.")]
