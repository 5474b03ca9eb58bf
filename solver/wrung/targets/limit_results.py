"""What is said of two limits of size: each limit, its gauge, and the stack built for it."""

from collections.abc import Iterator, Sequence
from typing import Annotated, Literal, TypeAlias

from msgspec import Meta, Struct

from wrung.measures import Deviation, Length, Margin, Measure
from wrung.targets.base import TargetResult
from wrung.targets.built import BuiltLength
from wrung.targets.gauge_zones import GaugePlace
from wrung.targets.tolerance_ratios import TestUncertaintyRatio, judged, ratio_remarks
from wrung.texts import Phrase, figure, phrase

GaugeRole: TypeAlias = Literal["go", "not_go", "lower", "upper"]


class LimitGauge(Struct, frozen=True, kw_only=True):
    """One limit of size and its stack."""

    role: Annotated[GaugeRole, Meta(description="What the stack checks.")]
    limit: Annotated[Length, Meta(description="The limit of size.")]
    moved_inward: Annotated[
        Margin | None,
        Meta(
            description="How far inside its limit the stack is wanted, rounding included; null "
            "for a stack as long as its limit."
        ),
    ] = None
    rounding_error: Annotated[
        Deviation | None,
        Meta(description="What `rounded_to` changed: the wanted length less the exact one."),
    ] = None
    smallest_gauge: Annotated[
        Length | None,
        Meta(description="Smallest size of a new gauge, where `gauge_tolerance` is given."),
    ] = None
    largest_gauge: Annotated[
        Length | None, Meta(description="Largest size of a new gauge, likewise.")
    ] = None
    wear_limit: Annotated[
        Length | None,
        Meta(description="Size at which a worn GO gauge is done with: its wear allowance is used."),
    ] = None
    stack: Annotated[BuiltLength | None, Meta(description="The stack as built, if it was.")] = None


class LimitsOfSize(Struct, frozen=True, kw_only=True):
    """Limits of size, a stack for each, and whether the stacks are good enough."""

    lower: Annotated[Length | None, Meta(description="Lower limit of size.")]
    upper: Annotated[Length | None, Meta(description="Upper limit of size.")]
    tolerance: Annotated[Length | None, Meta(description="Upper less lower limit.")]
    gauges: Annotated[tuple[LimitGauge, ...], Meta(description="A stack for each limit.")]
    test_uncertainty_ratio: TestUncertaintyRatio
    guard_band: Annotated[
        Margin | None,
        Meta(description="How far inside the limits all else begins, as stated or found."),
    ] = None
    guard_covers_uncertainty: Annotated[
        bool | None,
        Meta(
            description="Whether no stack can be off by more than the guard band, its offset "
            "included; null without a guard band, or without stacks."
        ),
    ] = None

    @property
    def largest_uncertainty(self) -> int | None:
        """How far the stack that is least sure can be off, its offset included."""
        known = [each.uncertainty for each in stacks_of(self.gauges)]
        return max((each for each in known if each is not None), default=None)


class LimitPairResult(TargetResult, frozen=True, kw_only=True):
    """What every result of a pair of limits holds."""

    limits: Annotated[LimitsOfSize, Meta(description="Limits of size and their stacks.")]


def limit_gauge(
    role: GaugeRole, place: GaugePlace, stack: BuiltLength | None, step: int | None
) -> LimitGauge:
    """A limit with what was built for it; ``step`` is what stacks are rounded to."""
    smallest, largest = place.zone or (None, None)
    return LimitGauge(
        role=role,
        limit=place.limit,
        moved_inward=place.inward * (place.wanted_length - place.limit) or None,
        rounding_error=None if step is None else place.wanted_length - place.exact_length,
        smallest_gauge=smallest,
        largest_gauge=largest,
        wear_limit=place.wear_limit,
        stack=stack,
    )


def limits_remarks(limits: LimitsOfSize, *, guard_sought: bool = False) -> tuple[Phrase, ...]:
    """Remarks on rounding, wear, and if the stacks are not clearly better than what they check."""
    return (
        *_rounding_remarks(limits),
        *_wear_remarks(limits),
        *(_sought_remarks(limits) if guard_sought else _guard_remarks(limits)),
        *ratio_remarks(judged(limits.tolerance, stacks_of(limits.gauges))),
    )


def _rounding_remarks(limits: LimitsOfSize) -> Iterator[Phrase]:
    for gauge in limits.gauges:
        if gauge.rounding_error and gauge.stack:
            parts = gauge.smallest_gauge is None
            yield phrase(
                "limits.rounded" if parts else "limits.rounded_gauge",
                figure("length", gauge.stack.wanted_length, Measure.LENGTH),
                figure("error", abs(gauge.rounding_error), Measure.MARGIN),
            )


def _wear_remarks(limits: LimitsOfSize) -> Iterator[Phrase]:
    for gauge in limits.gauges:
        smallest, largest, worn = gauge.smallest_gauge, gauge.largest_gauge, gauge.wear_limit
        if smallest is not None and largest is not None and worn and smallest < worn < largest:
            # The middle of the zone lies on the good side of the wear limit.
            first = smallest if smallest + largest > 2 * worn else largest
            yield phrase(
                "limits.wear",
                figure("length", first, Measure.LENGTH),
                figure("limit", worn, Measure.LENGTH, "least" if first == smallest else "most"),
            )


def _guard_remarks(limits: LimitsOfSize) -> Iterator[Phrase]:
    if not limits.guard_band:
        return
    for gauge in limits.gauges:
        stack, inside = gauge.stack, gauge.moved_inward or 0
        if stack and stack.uncertainty is not None and stack.uncertainty > inside:
            yield phrase(
                "limits.guard_band",
                figure("length", stack.wanted_length, Measure.LENGTH),
                figure("uncertainty", stack.uncertainty, Measure.MARGIN),
                figure("inside", inside, Measure.MARGIN, "most"),
            )


def _sought_remarks(limits: LimitsOfSize) -> Iterator[Phrase]:
    if limits.guard_covers_uncertainty is False:
        uncertainty = limits.largest_uncertainty or 0
        yield phrase("limits.no_guard_band", figure("uncertainty", uncertainty, Measure.MARGIN))


def stacks_of(gauges: Sequence[LimitGauge]) -> tuple[BuiltLength, ...]:
    """Those of the gauges that were built."""
    return tuple(gauge.stack for gauge in gauges if gauge.stack)
