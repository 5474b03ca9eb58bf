"""A setting stack for an indicator or comparator, to compare a part with on a surface plate."""

from collections.abc import Sequence
from decimal import Decimal
from typing import Annotated, ClassVar, Literal

from msgspec import Meta

from wrung.answers import Stack, Unmet
from wrung.errors import Fault, InputError
from wrung.materials import material
from wrung.measures import Deviation, Length, Margin, Measure, Ratio, Temperature
from wrung.real import in_reals, nearest
from wrung.targets.base import Name, StackTarget, TargetResult, require, unless
from wrung.targets.built import BuiltLength, built
from wrung.targets.limit_pair import ENOUGH, coarse, tolerance_ratio
from wrung.targets.requirement import Requirement
from wrung.texts import Phrase, figure, phrase

_REFERENCE: Decimal = Decimal(20)  # ISO 1
_COLDEST, _HOTTEST = Decimal(-40), Decimal(100)


class ComparisonTarget(StackTarget, frozen=True, kw_only=True, tag="comparison"):
    """A stack to set an indicator to zero on, with its readings at the limits of a part."""

    cautions: ClassVar[tuple[str, ...]] = ("caution.burr",)

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
        Name, Meta(description="Material of the part, see `GET /v1/materials`.")
    ] = "steel"
    block_material: Annotated[Name, Meta(description="Material of the blocks.")] = "steel"
    part_temperature: Annotated[Temperature, Meta(description="Of the part, in °C.")] = _REFERENCE
    block_temperature: Annotated[Temperature, Meta(description="Of the stack, in °C.")] = _REFERENCE

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

    def results(self, stacks: Sequence[Stack], unmet: Sequence[Unmet] = ()) -> "ComparisonResult":
        """What the indicator shows at the limits, once set to zero on the stack."""
        del unmet
        stack = built(stacks, self.name_of())
        # Limits of size hold at 20 °C; the indicator compares lengths as they are now.
        growth = self._growth()
        tolerance = self.upper_deviation - self.lower_deviation
        ratio = tolerance_ratio(tolerance, [stack] if stack else [])
        lower, upper = (
            self.nominal + deviation + growth - (stack.length if stack else self.wanted)
            for deviation in (self.lower_deviation, self.upper_deviation)
        )
        return ComparisonResult(
            target=self.ref,
            remarks=(*coarse(ratio), *self._remarks(lower, upper)),
            stack=stack,
            temperature_offset=growth,
            reading_at_lower=lower,
            reading_at_upper=upper,
            tolerance_ratio=ratio,
        )

    @in_reals
    def _growth(self) -> int:
        """How much longer part than stack is for its temperature."""
        part = _strain(self.part_material, self.part_temperature)
        return nearest(self.nominal * (part - _strain(self.block_material, self.block_temperature)))

    def _remarks(self, lower: int, upper: int) -> tuple[Phrase, ...]:
        remarks: list[Phrase] = []
        reach, interval = self.indicator_range, self.scale_interval
        farthest = max(abs(lower), abs(upper))
        if reach is not None and farthest > reach:
            remarks.append(
                phrase("comparison.range", figure("reading", farthest, Measure.DEVIATION))
            )
        tolerance = self.upper_deviation - self.lower_deviation
        # The rule of ten to one holds for the scale as well as for the stack.
        if interval is not None and interval * ENOUGH > tolerance:
            remarks.append(phrase("comparison.scale", figure("interval", interval, Measure.MARGIN)))
        return tuple(remarks)

    def _check(self) -> None:
        degrees = "must be from -40 to 100 °C"
        require(
            unless(self.nominal > 0, "nominal", "must be greater than zero"),
            # A deviation below zero may be larger than a small nominal size.
            unless(self.wanted > 0, "lower_deviation", "the stack would have no length"),
            unless(
                self.lower_deviation < self.upper_deviation,
                "upper_deviation",
                "must be greater than lower_deviation",
            ),
            *(
                unless(_COLDEST <= getattr(self, member) <= _HOTTEST, member, degrees)
                for member in ("part_temperature", "block_temperature")
            ),
            *(_material_fault(self, member) for member in ("part_material", "block_material")),
        )


class ComparisonResult(TargetResult, frozen=True, kw_only=True, tag="comparison"):
    """The readings of an indicator set to zero on the stack."""

    stack: Annotated[BuiltLength | None, Meta(description="The stack as built, if it was.")]
    temperature_offset: Annotated[
        Deviation,
        Meta(
            description="How much longer than the stack a part of the same length at 20 °C is, "
            "at the temperatures given. The readings include it."
        ),
    ]
    reading_at_lower: Annotated[Deviation, Meta(description="Reading at the lower limit.")]
    reading_at_upper: Annotated[Deviation, Meta(description="Reading at the upper limit.")]
    tolerance_ratio: Annotated[
        Ratio | None, Meta(description="Tolerance over the stack's worst-case error.")
    ]


def _strain(material_id: str, temperature: Decimal) -> Decimal:
    return material(material_id).expansion * (temperature - _REFERENCE) / 1_000_000


def _material_fault(target: ComparisonTarget, member: str) -> Fault | None:
    try:
        material(getattr(target, member))
    except InputError as error:
        return Fault(pointer=f"/{member}", detail=error.faults[0].detail)
    return None
