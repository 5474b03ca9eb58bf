"""Two stacks for two limits of size: GO and NOT GO, or the two ends of a step's tolerance."""

from collections.abc import Sequence
from typing import Annotated, ClassVar, Final, Literal, TypeAlias

from msgspec import Meta, Struct

from wrung.answers import Stack
from wrung.measures import Length
from wrung.targets.base import StackTarget, TargetResult, require, unless
from wrung.targets.built import BuiltLength, built
from wrung.targets.requirement import Requirement
from wrung.targets.tolerance_ratios import (
    TestUncertaintyRatio,
    judged,
    ratio_remarks,
    shown_ratio,
)
from wrung.texts import Phrase

Feature: TypeAlias = Literal["internal", "external", "step"]
GaugeRole: TypeAlias = Literal["go", "not_go", "lower", "upper"]

_ROLES: Final[dict[Feature, tuple[GaugeRole, GaugeRole]]] = {
    # Roles of the lower and the upper limit. GO is the limit with the most material left.
    "internal": ("go", "not_go"),
    "external": ("not_go", "go"),
    "step": ("lower", "upper"),
}


class LimitGauge(Struct, frozen=True, kw_only=True):
    """One limit of size and its stack."""

    role: Annotated[GaugeRole, Meta(description="What the stack checks.")]
    limit: Annotated[Length, Meta(description="The limit of size.")]
    stack: Annotated[BuiltLength | None, Meta(description="The stack as built, if it was.")] = None


class LimitPairTarget(StackTarget, frozen=True, kw_only=True):
    """A target of one or two limits; a kind says what they are."""

    cautions: ClassVar[tuple[str, ...]] = ("caution.spindle", "caution.gently", "caution.burr")

    rounded_to: Annotated[
        Length | None,
        Meta(
            description="Stacks are rounded to this step, into the tolerance, for limits that "
            "blocks cannot make exactly, such as 0.0001 in for an ISO 286 class. "
            "Exact by default."
        ),
    ] = None

    def limits_of_size(self) -> tuple[int | None, int | None]:
        """Lower and upper limit, quanta; None for a limit that is not checked."""
        raise NotImplementedError

    def measured_feature(self) -> Feature:
        """What has the size."""
        raise NotImplementedError

    def requirements(self) -> tuple[Requirement, ...]:
        """``go`` and ``not_go``; of a step ``lower`` and ``upper``."""
        lower, upper = self._lengths()
        require(
            unless(
                lower is None or upper is None or lower < upper,
                "rounded_to",
                "leaves nothing of the tolerance",
            )
        )
        return tuple(
            self.stack(length, role=role)
            for role, length in zip(self._roles(), (lower, upper), strict=True)
            if length is not None
        )

    def gauges(self, stacks: Sequence[Stack]) -> tuple[LimitGauge, ...]:
        """The limits with their stacks as far as they were built."""
        return tuple(
            LimitGauge(role=role, limit=limit, stack=built(stacks, self.name_of(role)))
            for role, limit in zip(self._roles(), self.limits_of_size(), strict=True)
            if limit is not None
        )

    def _lengths(self) -> tuple[int | None, int | None]:
        """Lengths of the stacks for lower and upper limit: within them, where they are rounded."""
        lower, upper = self.limits_of_size()
        step = self.rounded_to
        if step is None:
            return lower, upper
        require(unless(step > 0, "rounded_to", "must be greater than zero"))
        return (
            # Whole numbers are rounded up by rounding their negatives down.
            None if lower is None else -(-lower // step) * step,
            None if upper is None else upper // step * step,
        )

    def _roles(self) -> tuple[GaugeRole, GaugeRole]:
        return _ROLES[self.measured_feature()]


class LimitsOfSize(Struct, frozen=True, kw_only=True):
    """Limits of size, a stack for each, and whether the stacks are good enough."""

    lower: Annotated[Length | None, Meta(description="Lower limit of size.")]
    upper: Annotated[Length | None, Meta(description="Upper limit of size.")]
    tolerance: Annotated[Length | None, Meta(description="Upper less lower limit.")]
    gauges: Annotated[tuple[LimitGauge, ...], Meta(description="A stack for each limit.")]
    test_uncertainty_ratio: TestUncertaintyRatio


class LimitPairResult(TargetResult, frozen=True, kw_only=True):
    """What every result of a pair of limits holds."""

    limits: Annotated[LimitsOfSize, Meta(description="Limits of size and their stacks.")]


def limits_as_built(target: LimitPairTarget, stacks: Sequence[Stack]) -> LimitsOfSize:
    """The limits of a target with what was built for them."""
    lower, upper = target.limits_of_size()
    tolerance = None if lower is None or upper is None else upper - lower
    gauges = target.gauges(stacks)
    return LimitsOfSize(
        lower=lower,
        upper=upper,
        tolerance=tolerance,
        gauges=gauges,
        test_uncertainty_ratio=shown_ratio(judged(tolerance, _stacks(gauges))),
    )


def limits_remarks(limits: LimitsOfSize) -> tuple[Phrase, ...]:
    """Remarks if the stacks are not clearly better than what they check."""
    return ratio_remarks(judged(limits.tolerance, _stacks(limits.gauges)))


def _stacks(gauges: Sequence[LimitGauge]) -> tuple[BuiltLength, ...]:
    return tuple(gauge.stack for gauge in gauges if gauge.stack)
