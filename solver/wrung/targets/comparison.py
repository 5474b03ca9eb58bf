"""A setting stack for an indicator or comparator, to compare a part with on a surface plate."""

from collections.abc import Iterator, Sequence
from decimal import Decimal
from typing import Annotated, ClassVar, Final, Literal

from msgspec import Meta
from msgspec.structs import replace

from wrung.answers import Stack, Unmet
from wrung.errors import greater, positive, require, unless
from wrung.materials import USUAL_MATERIAL, material_fault
from wrung.measures import Deviation, Length, Margin, Measure, Ratio, Temperature
from wrung.metrology.conditions import REFERENCE_TEMPERATURE, Conditions
from wrung.metrology.quantities import Quantity, exactly
from wrung.targets.base import Name, StackTarget, TargetResult
from wrung.targets.built import BuiltLength, built, in_use
from wrung.targets.requirement import Requirement
from wrung.targets.tolerance_ratios import Judged, ratio_remarks, shown_ratio
from wrung.texts import Phrase, figure, phrase

_SCALE_SHARE: Final = 10
"""A scale interval should be a tenth of the tolerance at most: common practice, no source."""

_COLDEST, _HOTTEST = Decimal(-40), Decimal(100)


class ComparisonTarget(StackTarget, frozen=True, kw_only=True, tag="comparison"):
    """A stack to set an indicator to zero on, with its readings at the limits of a part.

    In Python, lengths are in quanta of 0.01 nm, see `wrung.mm` and `wrung.inch`.

    >>> target = ComparisonTarget(ref="pin", nominal=mm("31.25"),
    ...     lower_deviation=um("-10"), upper_deviation=um("10"))
    >>> [to_text(each.length, "mm") for each in target.requirements()]
    ['31.25']
    """

    cautions: ClassVar[tuple[str, ...]] = ("caution.burr",)
    stands: ClassVar[bool] = True
    takes_step: ClassVar[bool] = True

    nominal: Annotated[Length, Meta(description="Nominal size of the part.")]
    lower_deviation: Annotated[Deviation, Meta(description="Lower limit less nominal size.")]
    upper_deviation: Annotated[Deviation, Meta(description="Upper limit less nominal size.")]
    set_to: Annotated[
        Literal["nominal", "middle"],
        Meta(description="Length of the stack: nominal size, or the middle of both limits."),
    ] = "nominal"
    indicator_range: Annotated[
        Margin | None, Meta(description="Range of the indicator on either side of zero.")
    ] = None
    scale_interval: Annotated[
        Margin | None, Meta(description="The indicator's scale interval or digital step.")
    ] = None
    part_material: Annotated[
        Name | None,
        Meta(
            description="Material of the part, see `GET /v1/materials`; if left out, that of the "
            "part in `conditions`, or steel. The blocks' materials are those of the stack as built."
        ),
    ] = None
    part_temperature: Annotated[
        Temperature | None,
        Meta(
            description="Of the part; if left out, as warm as the stack, or as much "
            "warmer as `conditions` say."
        ),
    ] = None
    block_temperature: Annotated[
        Temperature | None,
        Meta(description="Of the stack; if left out, that of `conditions`, or 20 °C."),
    ] = None

    @property
    def wanted(self) -> int:
        """Length of the stack."""
        # An odd sum of quanta loses half a quantum, 0.005 nm, which no block can show.
        middle = (self.lower_deviation + self.upper_deviation) // 2
        return self.nominal + (middle if self.set_to == "middle" else 0)

    def requirements(self) -> tuple[Requirement, ...]:
        """The setting stack."""
        self._check()
        return (self.stack(self.wanted),)

    def in_use(self, conditions: Conditions) -> Conditions:
        """The conditions with the part, and with the temperatures that the target states."""
        # What the target states goes before; how sure it is stays as the conditions say.
        at = _restated(conditions.temperature, self.block_temperature)
        found = replace(conditions, temperature=at)
        if self.part_temperature is not None or found.thermal:
            # Conditions with a part say how it grows.
            usual = None if conditions.part else USUAL_MATERIAL
            found = found.with_part(self.part_material or usual)
        if self.part_temperature is None or found.part is None:
            return found
        warmer = float(self.part_temperature) - REFERENCE_TEMPERATURE - found.excess.estimate
        gradient = replace(found.part.temperature_difference, estimate=warmer)
        return replace(found, part=replace(found.part, temperature_difference=gradient))

    def results(self, stacks: Sequence[Stack], _unmet: Sequence[Unmet] = ()) -> "ComparisonResult":
        """What the indicator shows at the limits, once set to zero on the stack."""
        name = self.name_of()
        stack, used = built(stacks, name), in_use(stacks, name)
        found = self._judged(stack)
        lower = self._reading(self.lower_deviation, stack)
        upper = self._reading(self.upper_deviation, stack)
        return ComparisonResult(
            target=self.ref,
            remarks=(*ratio_remarks(found), *self._remarks(lower, upper)),
            stack=stack,
            # The budget says how much smaller a part is that fits the stack now.
            temperature_offset=None if used is None else -used.budget.temperature_effect,
            reading_at_lower=lower,
            reading_at_upper=upper,
            test_uncertainty_ratio=shown_ratio(found),
        )

    def _reading(self, deviation: int, stack: BuiltLength | None) -> int | None:
        """The reading on a part of that deviation: its size less what fits the stack in use."""
        if stack is None:
            return None
        off = stack.error if stack.offset_in_use is None else stack.offset_in_use
        return self.nominal + deviation - stack.wanted_length - off

    def _judged(self, stack: BuiltLength | None) -> Judged | None:
        if stack is None:
            return None
        return Judged(
            width=self.upper_deviation - self.lower_deviation,
            worst_case=stack.worst_case,
            # Without the offset, which the readings allow for.
            uncertainty=stack.expanded_uncertainty,
        )

    def _remarks(self, lower: int | None, upper: int | None) -> Iterator[Phrase]:
        reach, interval = self.indicator_range, self.scale_interval
        farthest = max(abs(lower or 0), abs(upper or 0))
        if reach is not None and farthest > reach:
            yield phrase("comparison.range", figure("reading", farthest, Measure.DEVIATION))
        tolerance = self.upper_deviation - self.lower_deviation
        if interval is not None and interval * _SCALE_SHARE > tolerance:
            yield phrase("comparison.scale", figure("interval", interval, Measure.MARGIN, "stated"))

    def _check(self) -> None:
        degrees = "must be from -40 to 100 °C (-40 to 212 °F)"
        require(
            *positive(self, "nominal"),
            # A deviation below zero may be larger than a small nominal size.
            unless(self.wanted > 0, "lower_deviation", "the stack would have no length"),
            greater(self, "upper_deviation", than="lower_deviation"),
            *(
                unless(at is None or _COLDEST <= at <= _HOTTEST, member, degrees)
                for member, at in (
                    ("part_temperature", self.part_temperature),
                    ("block_temperature", self.block_temperature),
                )
            ),
            material_fault(self.part_material, "/part_material"),
        )


class ComparisonResult(TargetResult, frozen=True, kw_only=True, tag="comparison"):
    """The readings of an indicator set to zero on the stack."""

    stack: Annotated[BuiltLength | None, Meta(description="The stack as built, if it was.")]
    temperature_offset: Annotated[
        Deviation | None,
        Meta(
            description="How much longer than the stack a part of its length is, for the "
            "temperatures of both and the materials of part and blocks; contained in the readings. "
            "Null without a stack."
        ),
    ]
    reading_at_lower: Annotated[
        Deviation | None,
        Meta(
            description="Reading at the lower limit: lower deviation less `offset_in_use`, from "
            "where the stack is wanted to be. Null without a stack."
        ),
    ]
    reading_at_upper: Annotated[
        Deviation | None, Meta(description="Reading at the upper limit, likewise.")
    ]
    test_uncertainty_ratio: Annotated[
        Ratio | None,
        Meta(
            description="Test uncertainty ratio (TUR): width of the tolerance over twice the "
            "expanded uncertainty of the stack. The readings allow for its offset, so that this "
            "does not count. Rounded down."
        ),
    ]


def _restated(known: Quantity | None, stated: Decimal | None) -> Quantity | None:
    """A temperature with the estimate that the target states, if it does."""
    if stated is None:
        return known
    return replace(known or exactly(0.0), estimate=float(stated))
