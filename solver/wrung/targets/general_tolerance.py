"""A size without a tolerance of its own: stacks for its limits by ISO 2768-1."""

from collections.abc import Sequence
from typing import Annotated, Literal

from msgspec import Meta

from wrung.answers import Stack, Unmet
from wrung.fits import iso2768
from wrung.measures import Deviation, Length
from wrung.targets.limit_pair import Feature, LimitPairTarget
from wrung.targets.limit_results import LimitPairResult


class GeneralToleranceTarget(LimitPairTarget, frozen=True, kw_only=True, tag="general_tolerance"):
    """Stacks for the limits of a linear size with a general tolerance.

    In Python, lengths are in quanta of 0.01 nm, see `wrung.mm` and `wrung.inch`.

    >>> target = GeneralToleranceTarget(ref="web", nominal=mm("40"), general_class="m")
    >>> [to_text(each.length, "mm") for each in target.requirements()]
    ['39.7', '40.3']
    """

    nominal: Annotated[Length, Meta(description="Nominal size, 0.5 mm to 4000 mm.")]
    general_class: Annotated[
        Literal["f", "m", "c", "v"],
        Meta(description="Class of ISO 2768-1: fine, medium, coarse, very coarse."),
    ]
    feature: Annotated[Feature, Meta(description="As for `limits`.")] = "internal"

    def limits_of_size(self) -> tuple[int | None, int | None]:
        """Lower and upper limit, quanta."""
        limits = iso2768.limits(self.nominal, self.general_class)
        return limits.lower, limits.upper

    def measured_feature(self) -> Feature:
        """What has the size."""
        return self.feature

    def results(
        self, stacks: Sequence[Stack], _unmet: Sequence[Unmet] = ()
    ) -> "GeneralToleranceResult":
        """Limits, deviations and their stacks."""
        limits, remarks = self.found(stacks)
        own = iso2768.limits(self.nominal, self.general_class)
        return GeneralToleranceResult(
            target=self.ref,
            remarks=remarks,
            limits=limits,
            lower_deviation=own.lower_deviation,
            upper_deviation=own.upper_deviation,
        )


class GeneralToleranceResult(LimitPairResult, frozen=True, kw_only=True, tag="general_tolerance"):
    """The limits of a size without a tolerance of its own, and a stack for each."""

    lower_deviation: Annotated[Deviation, Meta(description="Lower limit less nominal size.")]
    upper_deviation: Annotated[Deviation, Meta(description="Upper limit less nominal size.")]
