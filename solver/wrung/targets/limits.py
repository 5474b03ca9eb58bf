"""GO and NOT GO stacks for a slot, groove or gap from two limits; one-sided and step checks."""

from collections.abc import Sequence
from typing import Annotated

from msgspec import Meta

from wrung.answers import Stack, Unmet
from wrung.errors import InputError, require, unless
from wrung.measures import Deviation, Length
from wrung.targets.limit_pair import Feature, LimitPairTarget
from wrung.targets.limit_results import LimitPairResult


class LimitsTarget(LimitPairTarget, frozen=True, kw_only=True, tag="limits"):
    """Stacks for limits of size: ``lower`` and ``upper``, or ``nominal`` with its deviations.

    One limit alone makes a one-sided check.

    In Python, lengths are in quanta of 0.01 nm, see `wrung.mm` and `wrung.inch`.

    >>> target = LimitsTarget(ref="slot", lower=mm("8.01"), upper=mm("8.05"))
    >>> [to_text(each.length, "mm") for each in target.requirements()]
    ['8.01', '8.05']
    """

    feature: Annotated[
        Feature,
        Meta(
            description="`internal`: a slot, groove or gap, GO is the lower limit. `external`: the "
            "gap that a part must pass, GO is the upper limit. `step`: a height, checked beside "
            "the stacks `lower` and `upper`."
        ),
    ] = "internal"
    lower: Annotated[Length | None, Meta(description="Lower limit of size.")] = None
    upper: Annotated[Length | None, Meta(description="Upper limit of size.")] = None
    nominal: Annotated[Length | None, Meta(description="Nominal size, with deviations.")] = None
    lower_deviation: Annotated[Deviation | None, Meta(description="Lower limit deviation.")] = None
    upper_deviation: Annotated[Deviation | None, Meta(description="Upper limit deviation.")] = None

    def measured_feature(self) -> Feature:
        """What has the size."""
        return self.feature

    def limits_of_size(self) -> tuple[int | None, int | None]:
        """Lower and upper limit, quanta; None for a limit that is not checked.

        Raises:
            InputError: neither way to state them is used, both are, or they contradict each other.
        """
        lower, upper = self._stated()
        if lower is None and upper is None:
            detail = "give lower or upper, or nominal with a deviation"
            raise InputError.at("", detail)
        # Faults point at what the caller wrote, be it limits or deviations.
        low, high = self._members()
        require(
            unless(lower is None or lower > 0, low, "the limit must be greater than zero"),
            unless(upper is None or upper > 0, high, "the limit must be greater than zero"),
            unless(
                lower is None or upper is None or lower < upper,
                high,
                "the upper limit must be greater than the lower one",
            ),
        )
        return lower, upper

    def _members(self) -> tuple[str, str]:
        """The members that state lower and upper limit."""
        return (
            ("lower", "upper") if self.nominal is None else ("lower_deviation", "upper_deviation")
        )

    def _stated(self) -> tuple[int | None, int | None]:
        deviations = (self.lower_deviation, self.upper_deviation)
        if self.nominal is None:
            require(
                unless(deviations == (None, None), "nominal", "deviations need the nominal size")
            )
            return self.lower, self.upper
        require(
            unless(self.lower is None, "lower", "give limits, or nominal size and deviations"),
            unless(self.upper is None, "upper", "give limits, or nominal size and deviations"),
        )
        lower, upper = (None if each is None else self.nominal + each for each in deviations)
        return lower, upper

    def results(self, stacks: Sequence[Stack], _unmet: Sequence[Unmet] = ()) -> "LimitsResult":
        """Both limits and their stacks."""
        limits, remarks = self.found(stacks)
        return LimitsResult(target=self.ref, remarks=remarks, limits=limits)


class LimitsResult(LimitPairResult, frozen=True, kw_only=True, tag="limits"):
    """Limits of size, and a stack for each."""
