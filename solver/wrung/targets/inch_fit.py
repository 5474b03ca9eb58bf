"""A fit by ANSI B4.1: GO and NOT GO stacks for its hole, or for its shaft."""

from collections.abc import Sequence
from typing import Annotated, Final, Literal, TypeAlias

from msgspec import Meta

from wrung.answers import Stack, Unmet
from wrung.errors import require, unless
from wrung.fits.ansi_b41 import InchFit, inch_fit
from wrung.fits.limits import SizeLimits, clearances
from wrung.measures import Length
from wrung.tables import Checked
from wrung.targets.base import Name
from wrung.targets.fit import FitResult
from wrung.targets.limit_pair import Feature, LimitPairTarget
from wrung.texts import phrase

FitFeature: TypeAlias = Literal["internal", "external"]
_REMARKS: Final = {"partly": "fit.checked_partly", "no": "fit.from_memory"}


class InchFitTarget(LimitPairTarget, frozen=True, kw_only=True, tag="inch_fit"):
    """Stacks for the limits of a hole or a shaft of an ANSI B4.1 fit, such as RC4 of 1.25 in.

    In Python, lengths are in quanta of 0.01 nm, see `wrung.mm` and `wrung.inch`.

    >>> target = InchFitTarget(ref="bush", nominal=inch("1.25"), fit_class="RC4")
    >>> [to_text(each.length, "in") for each in target.requirements()]
    ['1.25', '1.2516']
    """

    nominal: Annotated[Length, Meta(description="Nominal size, up to 19.69 in.")]
    fit_class: Annotated[
        Name,
        Meta(
            description="Such as `RC4`: RC1 to RC9 (running and sliding), LC1 to LC11, LT1 to LT6 "
            "and LN1 to LN3 (locational), FN1 to FN5 (force and shrink).",
            examples=["RC4"],
        ),
    ]
    feature: Annotated[
        FitFeature,
        Meta(
            description="`internal`: the hole of the fit, GO is its lower limit; `external`: "
            "the shaft, GO is its upper limit."
        ),
    ] = "internal"

    def limits_of_size(self) -> tuple[int | None, int | None]:
        """Lower and upper limit, quanta."""
        limits = self._size_limits(inch_fit(self.nominal, self.fit_class))
        detail = f"{self.fit_class} of this size has a limit that is not above zero"
        require(unless(limits.lower > 0, "nominal", detail))
        return limits.lower, limits.upper

    def measured_feature(self) -> Feature:
        """The hole or the shaft."""
        return self.feature

    def results(self, stacks: Sequence[Stack], _unmet: Sequence[Unmet] = ()) -> "InchFitResult":
        """Limits, deviations, their stacks, the clearances, and how far all that was checked."""
        limits, remarks = self.found(stacks)
        fit = inch_fit(self.nominal, self.fit_class)
        own = self._size_limits(fit)
        least, greatest = clearances(fit.hole, fit.shaft)
        doubt = _REMARKS.get(fit.checked)
        return InchFitResult(
            target=self.ref,
            remarks=(*((phrase(doubt),) if doubt else ()), *remarks),
            limits=limits,
            lower_deviation=own.lower_deviation,
            upper_deviation=own.upper_deviation,
            minimum_clearance=least,
            maximum_clearance=greatest,
            checked=fit.checked,
        )

    def _size_limits(self, fit: InchFit) -> SizeLimits:
        return fit.hole if self.feature == "internal" else fit.shaft


class InchFitResult(FitResult, frozen=True, kw_only=True, tag="inch_fit"):
    """The limits of a hole or a shaft of a fit, and a stack for each."""

    checked: Annotated[
        Checked,
        Meta(
            description="How far the limits of this fit and size were compared with print: `yes`, "
            "a handbook; `partly`, one copy on the web, or worked out; `no`, from memory."
        ),
    ]
