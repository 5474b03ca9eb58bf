"""The bore of a large ring, by a stack between two balls or end rods.

A stack with an end at each side spans the bore: D = S + e1 + e2. Made a little shorter than the
bore, it can be rocked about one end: the centre of its other end then moves by w from wall to
wall. With ends of radius e, Lc = S + e1 + e2 - 2e between the centres of the ends and
sin t = w / 2Lc, the bore is D = Lc / cos t + 2e, exactly; near enough D = L + w² / 8L, the known
formula for rocked end rods (handbooks of the workshop, from memory; the exact one by geometry).
"""

from collections.abc import Iterator, Sequence
from decimal import Decimal
from typing import Annotated, ClassVar, Final, Literal

from msgspec import Meta

from wrung.answers import Stack, Unmet
from wrung.errors import Fault, not_negative, positive, unless
from wrung.measures import Length, Margin
from wrung.real import in_reals, nearest
from wrung.targets.contributions import SizeInput, size_input, uncertainty_of
from wrung.targets.size import FoundSize, SizeResult, SizeTarget

_SHORTEST: Final = 100
"""The whole is shorter than the bore by at most this part of it."""


class RingBoreTarget(SizeTarget, frozen=True, kw_only=True, tag="ring_bore"):
    """A stack between two balls or end rods that spans the bore of a large ring.

    In Python, lengths are in quanta of 0.01 nm, see `wrung.mm` and `wrung.inch`.

    >>> target = RingBoreTarget(ref="ring", ends="balls", bore=mm("250"), first_end=mm("20"))
    >>> [to_text(each.length, "mm") for each in target.requirements()]
    ['210']
    """

    size_member: ClassVar[str] = "bore"
    cautions: ClassVar[tuple[str, ...]] = ("caution.burr",)

    ends: Annotated[Literal["balls", "rods"], Meta(description="What is at the ends of the stack.")]
    bore: Annotated[Length, Meta(description="Wanted diameter of the bore.")]
    first_end: Annotated[
        Length, Meta(description="Diameter of the ball, or length of the rod, at one end.")
    ]
    second_end: Annotated[
        Length | None, Meta(description="That at the other end; left out, it is as the first.")
    ] = None
    shorter_by: Annotated[
        Length,
        Meta(
            description="How much shorter than the bore the whole is made, so that it can be "
            "rocked; at most a hundredth of the bore."
        ),
    ] = 0
    end_radius: Annotated[
        Length, Meta(description="Radius of the rounded ends of rods; that of balls is known.")
    ] = 0
    measured_rock: Annotated[
        Length | None,
        Meta(
            description="How far the centre of the free end moves from wall to wall, as measured."
        ),
    ] = None
    end_uncertainty: Annotated[Margin, uncertainty_of("each ball or rod")] = 0
    rock_uncertainty: Annotated[Margin, uncertainty_of("`measured_rock`")] = 0

    def exact_length(self) -> int:
        """The stack between the ends."""
        return self.bore - self.shorter_by - self._both_ends()

    @in_reals
    def size_with(self, length: int) -> int | None:
        """The bore in which it rocks as far as was measured, or as it would in the wanted one."""
        centres = length + self._both_ends() - 2 * self._radius()
        sine = self._rock() / 2 / centres if centres > 0 else Decimal(1)
        # From 30 degrees on it is no longer rocked in a bore that it nearly fills.
        if sine >= Decimal("0.5"):
            return None
        return nearest(centres / _cosine(sine) + 2 * self._radius())

    @in_reals
    def slope(self) -> Decimal:
        """Change of the bore over that of the stack."""
        sine = self._sine()
        return (1 - 2 * sine * sine) / _cosine(sine) ** 3

    @in_reals
    def inputs(self) -> tuple[SizeInput, ...]:
        """The ends, and how far it rocks."""
        end, slope = self.end_uncertainty, self.slope()
        by_rock = self._sine() / (2 * _cosine(self._sine()) ** 3)
        rocks = size_input("measured_rock", self.rock_uncertainty, by_rock)
        if self.second_end is not None:
            second = size_input("second_end", end, slope)
            return (size_input("first_end", end, slope), second, rocks)
        # Two ends of one size: their errors count as alike, which is the worse.
        both = slope + 1 if self.ends == "balls" else 2 * slope
        return (size_input("first_end", end, both), rocks)

    def faults(self) -> Iterator[Fault | None]:
        """Sizes that are none, and ends that cannot be rocked."""
        yield from positive(self, "bore", "first_end", "second_end")
        yield from not_negative(
            self, "shorter_by", "end_radius", "end_uncertainty", "rock_uncertainty", "measured_rock"
        )
        yield unless(
            self.shorter_by * _SHORTEST <= self.bore,
            "shorter_by",
            "is more than a hundredth of the bore",
        )
        second, rock = self.second_end, self.measured_rock
        rocked = rock is not None or self.shorter_by > 0
        yield unless(
            self.ends == "rods" or second is None or second == self.first_end or not rocked,
            "second_end",
            "balls of two sizes cannot be rocked: where the free one touches is not known",
        )
        yield unless(
            self.ends == "rods" or self.end_radius == 0,
            "end_radius",
            "is for rods; that of a ball is half its diameter",
        )
        # Its centre is on the rod: a larger radius would be no end of this rod.
        yield unless(
            self.end_radius <= min(self.first_end, second or self.first_end),
            "end_radius",
            "is larger than the rod is long",
        )
        yield unless(
            rock is None or self.size_with(self.exact_length()) is not None,
            "measured_rock",
            "is too large for a stack that nearly fills the bore",
        )

    def too_short(self) -> tuple[str, str]:
        """The ends alone are longer than the bore."""
        return "bore", "the ends leave no room for a stack between them"

    def results(self, stacks: Sequence[Stack], _unmet: Sequence[Unmet] = ()) -> "RingBoreResult":
        """The bore that the stack as built stands for."""
        common = self.in_common(stacks)
        stack = common["stack"]
        return RingBoreResult(
            **common,
            bore=self.found(stacks),
            expected_rock=None if stack is None else nearest(self._chord(stack.length)),
        )

    def _both_ends(self) -> int:
        return self.first_end + (self.first_end if self.second_end is None else self.second_end)

    @in_reals
    def _radius(self) -> Decimal:
        return Decimal(self.first_end) / 2 if self.ends == "balls" else Decimal(self.end_radius)

    @in_reals
    def _rock(self) -> Decimal:
        """How far it rocks: as measured, or as it would in the wanted bore."""
        if self.measured_rock is not None:
            return Decimal(self.measured_rock)
        return self._chord(self.exact_length())

    @in_reals
    def _chord(self, length: int) -> Decimal:
        across = self.bore - 2 * self._radius()
        centres = length + self._both_ends() - 2 * self._radius()
        cosine = centres / across if across > 0 else Decimal(1)
        return 2 * centres * (1 - min(cosine * cosine, Decimal(1))).sqrt()

    @in_reals
    def _sine(self) -> Decimal:
        centres = self.exact_length() + self._both_ends() - 2 * self._radius()
        return self._rock() / 2 / centres


class RingBoreResult(SizeResult, frozen=True, kw_only=True, tag="ring_bore"):
    """The bore of a ring."""

    bore: Annotated[FoundSize, Meta(description="The diameter of the bore.")]
    expected_rock: Annotated[
        Length | None,
        Meta(
            description="How far the centre of the free end moves from wall to wall in the wanted "
            "bore, with the stack as built; 0 if that fits exactly or not at all."
        ),
    ]


def _cosine(sine: Decimal) -> Decimal:
    return (1 - sine * sine).sqrt()
