"""A plain length."""

from collections.abc import Sequence
from typing import Annotated, ClassVar

from msgspec import Meta

from wrung.answers import Stack, Unmet
from wrung.measures import Length
from wrung.targets.base import StackTarget, TargetResult
from wrung.targets.built import BuiltLength, built
from wrung.targets.requirement import Requirement, Tolerance
from wrung.targets.tolerance_ratios import judged, ratio_remarks


class LengthTarget(StackTarget, frozen=True, kw_only=True, tag="length"):
    """A stack of a wanted length; the members are those of `Requirement`.

    In Python, lengths are in quanta of 0.01 nm, see `wrung.mm` and `wrung.inch`.

    >>> target = LengthTarget(ref="op20", length=mm("12.345"))
    >>> [to_text(each.length, "mm") for each in target.requirements()]
    ['12.345']
    """

    cautions: ClassVar[tuple[str, ...]] = ("caution.spindle", "caution.gently", "caution.burr")
    takes_step: ClassVar[bool] = True

    length: Annotated[Length, Meta(description="Wanted length.")]
    tolerance: Annotated[
        Tolerance, Meta(description="Allowed difference of the nominal length; exact if left out.")
    ] = Tolerance()

    def requirements(self) -> tuple[Requirement, ...]:
        """The one stack that this target needs."""
        return (self.stack(self.length, tolerance=self.tolerance),)

    def results(self, stacks: Sequence[Stack], _unmet: Sequence[Unmet] = ()) -> "LengthResult":
        """The stack as built."""
        stack = built(stacks, self.name_of())
        width = self.tolerance.upper - self.tolerance.lower
        return LengthResult(
            target=self.ref,
            remarks=ratio_remarks(judged(width, [stack] if stack else [])),
            stack=stack,
        )


class LengthResult(TargetResult, frozen=True, kw_only=True, tag="length"):
    """A stack of a wanted length, as built."""

    stack: BuiltLength | None
