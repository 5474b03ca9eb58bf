"""A ladder of stacks in equal steps over the range of a comparator: one after another."""

from collections.abc import Iterator, Sequence
from decimal import Decimal
from itertools import zip_longest
from math import ceil, hypot
from typing import Annotated, ClassVar, Final

from msgspec import Meta, Struct

from wrung.answers import Stack, Unmet
from wrung.errors import positive, require, unless
from wrung.measures import SENSITIVITY_STEP, Deviation, Length, Margin, Ratio
from wrung.real import in_reals
from wrung.targets.base import StackTarget, TargetResult
from wrung.targets.built import BuiltLength, built, temperature_remarks
from wrung.targets.requirement import Requirement

MOST_STEPS: Final = 50


class LadderTarget(StackTarget, frozen=True, kw_only=True, tag="ladder"):
    """Stacks that rise in equal steps, to see the scale of a comparator.

    In Python, lengths are in quanta of 0.01 nm, see `wrung.mm` and `wrung.inch`.

    >>> target = LadderTarget(ref="lever", lowest=mm("10"), step=mm("0.01"),
    ...     highest=mm("10.02"))
    >>> [to_text(each.length, "mm") for each in target.requirements()]
    ['10', '10.01', '10.02']
    """

    cautions: ClassVar[tuple[str, ...]] = ("caution.standing",)
    stands: ClassVar[bool] = True
    takes_step: ClassVar[bool] = True

    lowest: Annotated[Length, Meta(description="Length of the lowest stack.")]
    step: Annotated[Length, Meta(description="Step from one stack to the next.")]
    highest: Annotated[
        Length, Meta(description="Length of the highest stack, 1 to 50 whole steps above.")
    ]
    readings: Annotated[
        tuple[Deviation, ...],
        Meta(
            max_length=MOST_STEPS + 1,
            description="What the comparator showed, one for each stack from the lowest.",
        ),
    ] = ()

    def requirements(self) -> tuple[Requirement, ...]:
        """``step_0``, the lowest, and so on, in sequence."""
        require(
            *positive(self, "lowest", "step"),
        )
        whole = self.lowest + self._steps * self.step == self.highest
        require(
            unless(
                whole and 1 <= self._steps <= MOST_STEPS,
                "highest",
                f"must be 1 to {MOST_STEPS} whole steps above lowest",
            )
        )
        detail = f"must have one for each stack, {self._steps + 1} in all"
        require(unless(len(self.readings) in (0, self._steps + 1), "readings", detail))
        return tuple(
            self.stack(self.lowest + k * self.step, role=f"step_{k}", point=k)
            for k in range(self._steps + 1)
        )

    def results(self, stacks: Sequence[Stack], _unmet: Sequence[Unmet] = ()) -> "LadderResult":
        """A row for each stack, and what the readings say of the scale."""
        rows = tuple(self._rows(stacks))
        errors = [each.error for each in rows if each.error is not None]
        factor = _slope(rows) if len(errors) == len(rows) else None
        return LadderResult(
            target=self.ref,
            remarks=temperature_remarks(stacks),
            rows=rows,
            scale_factor=factor,
            error_span=max(errors) - min(errors) if len(errors) == len(rows) else None,
        )

    @property
    def _steps(self) -> int:
        return (self.highest - self.lowest) // self.step

    def _rows(self, stacks: Sequence[Stack]) -> Iterator["LadderStep"]:
        found = [built(stacks, self.name_of(f"step_{k}")) for k in range(self._steps + 1)]
        # If the lowest is missing, the comparator is set to zero on the next one that is there.
        zero = next((k for k, each in enumerate(found) if each), 0)
        lowest = found[zero]
        for k, (stack, reading) in enumerate(zip_longest(found, self.readings)):
            rise = stack.length - lowest.length if stack and lowest else None
            shown = None if reading is None else reading - self.readings[zero]
            yield LadderStep(
                role=f"step_{k}",
                stack=stack,
                rise=rise,
                rise_uncertainty=0 if k == zero else _of_rise(lowest, stack),
                reading=reading,
                error=None if rise is None or shown is None else shown - rise,
            )


class LadderStep(Struct, frozen=True, kw_only=True):
    """A stack of the ladder."""

    role: Annotated[str, Meta(description="The part that the stack plays: which step it is.")]
    stack: Annotated[BuiltLength | None, Meta(description="The stack as built, if it was.")]
    rise: Annotated[
        Deviation | None, Meta(description="Best known length less that of the lowest stack built.")
    ]
    rise_uncertainty: Annotated[
        Margin | None,
        Meta(
            description="Its expanded uncertainty: root of the sum of the squares of those of both "
            "stacks, as if no block and no certificate were common to them."
        ),
    ]
    reading: Annotated[Deviation | None, Meta(description="The reading, if it was sent.")]
    error: Annotated[
        Deviation | None,
        Meta(description="Reading less that on the lowest stack, less the rise."),
    ]


class LadderResult(TargetResult, frozen=True, kw_only=True, tag="ladder"):
    """The scale of a comparator, from stacks in equal steps."""

    rows: Annotated[tuple[LadderStep, ...], Meta(description="One for each stack, lowest first.")]
    scale_factor: Annotated[
        Ratio | None,
        Meta(
            description="Change of the reading over that of the length, by the straight line "
            "of least squares; null if a stack or reading is missing."
        ),
    ]
    error_span: Annotated[
        Margin | None, Meta(description="Largest less smallest error of all rows, likewise.")
    ]


def _of_rise(lowest: BuiltLength | None, stack: BuiltLength | None) -> int | None:
    one, other = (each.expanded_uncertainty if each else None for each in (lowest, stack))
    return None if one is None or other is None else ceil(hypot(one, other))


@in_reals
def _slope(rows: Sequence[LadderStep]) -> Decimal | None:
    """Of the straight line of least squares through rises and readings."""
    rises, shown = [each.rise or 0 for each in rows], [each.reading or 0 for each in rows]
    count, total = len(rows), sum(rises)
    spread = count * sum(x * x for x in rises) - total**2
    # Certified deviations can undo very small steps.
    if not spread:
        return None
    both = count * sum(x * y for x, y in zip(rises, shown, strict=True)) - total * sum(shown)
    return (Decimal(both) / Decimal(spread)).quantize(SENSITIVITY_STEP)
