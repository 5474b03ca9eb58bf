"""A tolerance class by ISO 286: GO and NOT GO stacks for a hole, slot or keyway, or for a shaft."""

from collections.abc import Iterator, Sequence
from typing import Annotated, Final, Literal, TypeAlias

from msgspec import Meta
from msgspec.structs import replace

from wrung.answers import Stack, Unmet
from wrung.errors import InputError, require, unless
from wrung.fits import iso286
from wrung.fits.limit_gauges import GaugeFigures, gauge_figures
from wrung.fits.limits import SizeLimits, clearances
from wrung.measures import Deviation, Difference, Length, Measure
from wrung.targets.base import Name
from wrung.targets.gauge_zones import Allowances
from wrung.targets.limit_pair import Feature, LimitPairTarget
from wrung.targets.limit_results import LimitPairResult, LimitsOfSize
from wrung.texts import Phrase, figure, phrase

GaugeStandard: TypeAlias = Literal["iso_r_1938"]

_OWN_FIGURES: Final = ("wear_allowance", "gauge_tolerance")


class FitTarget(LimitPairTarget, frozen=True, kw_only=True, tag="fit"):
    """Stacks for the limits of a tolerance class of ISO 286, such as 25H7 or a keyway 12P9.

    For a shaft, the stacks make the gap that it must pass (GO, upper limit) and must not pass (NOT
    GO).

    In Python, lengths are in quanta of 0.01 nm, see `wrung.mm` and `wrung.inch`.

    >>> target = FitTarget(ref="bore", nominal=mm("12"), tolerance_class="H7")
    >>> [to_text(each.length, "mm") for each in target.requirements()]
    ['12', '12.018']
    """

    nominal: Annotated[Length, Meta(description="Nominal size, up to 3150 mm.")]
    tolerance_class: Annotated[
        Name,
        Meta(
            description="Such as `H7`: A to ZC for internal sizes, a to zc for shafts, in grades "
            "01 to 18, as far as ISO 286-1 gives them for the size.",
            examples=["H7"],
        ),
    ]
    mating_class: Annotated[
        Name | None,
        Meta(description="Tolerance class of the mating part, to work out the fit."),
    ] = None
    gauge_standard: Annotated[
        GaugeStandard | None,
        Meta(
            description="GO and NOT GO are gauges by this standard, in place of a "
            "`wear_allowance` and a `gauge_tolerance` of your own; their zones are `centred`. "
            "`iso_r_1938`: ISO/R 1938:1971, for grades 6 to 16 and sizes to 500 mm."
        ),
    ] = None

    def limits_of_size(self) -> tuple[int | None, int | None]:
        """Lower and upper limit, quanta."""
        limits = self._size_limits()
        return limits.lower, limits.upper

    def measured_feature(self) -> Feature:
        """A hole or a shaft, by the letter."""
        internal = self.tolerance_class[:1].isupper()
        return "internal" if internal else "external"

    def _size_limits(self) -> SizeLimits:
        own, both, mate = self.tolerance_class.partition("/")
        if both:
            # As ISO 286-1 writes a fit; which of the two is to be checked, it does not say.
            detail = f"is a fit of two classes: give {own!r}, and {mate!r} as mating_class"
            raise InputError.at("/tolerance_class", detail)
        limits = iso286.limits(self.nominal, self.tolerance_class)
        # Of small sizes a wide class may reach below zero, where no stack can stand for it.
        if limits.lower <= 0:
            detail = f"{self.tolerance_class} of this size has a limit that is not above zero"
            raise InputError.at("/nominal", detail)
        self._mate()
        return limits

    def _allowances(self) -> Allowances:
        own, figures = super()._allowances(), self._gauge_figures()
        if figures is None:
            return own
        return replace(
            own,
            wear_allowance=figures.position,
            gauge_tolerance=figures.tolerance,
            gauge_zone="centred",
            safety=figures.safety,
            wear_past=figures.wear_past,
        )

    def _gauge_figures(self) -> GaugeFigures | None:
        if self.gauge_standard is None:
            return None
        detail = "is given by gauge_standard: leave it out, or state all figures yourself"
        require(*(unless(getattr(self, each) is None, each, detail) for each in _OWN_FIGURES))
        grade = iso286.tolerance_class(self.tolerance_class).grade
        internal = self.measured_feature() == "internal"
        try:
            return gauge_figures(self.nominal, grade, internal=internal)
        except InputError as error:
            raise error.all_at("/gauge_standard") from None

    def _mate(self) -> SizeLimits | None:
        if self.mating_class is None:
            return None
        try:
            mate = iso286.limits(self.nominal, self.mating_class)
        except InputError as error:
            # The table's fault points at `tolerance_class`, which is not the class at fault.
            raise error.all_at("/mating_class") from None
        if self.mating_class[0].isupper() == self.tolerance_class[0].isupper():
            detail = "a fit needs one class with a capital letter and one with a small one"
            raise InputError.at("/mating_class", detail)
        return mate

    def results(self, stacks: Sequence[Stack], _unmet: Sequence[Unmet] = ()) -> "FitResult":
        """Limits, deviations, their stacks, and the fit if a counterpart is given."""
        limits, remarks = self.found(stacks)
        own, mate = self._size_limits(), self._mate()
        # Capital letters are holes and small ones shafts (ISO 286-1).
        hole, shaft = (own, mate) if self.tolerance_class[0].isupper() else (mate, own)
        least, greatest = clearances(hole, shaft) if hole and shaft else (None, None)
        return FitResult(
            target=self.ref,
            remarks=(*remarks, *_gauge_remarks(limits, self._gauge_figures())),
            limits=limits,
            lower_deviation=own.lower_deviation,
            upper_deviation=own.upper_deviation,
            minimum_clearance=least,
            maximum_clearance=greatest,
        )


def _gauge_remarks(limits: LimitsOfSize, figures: GaugeFigures | None) -> Iterator[Phrase]:
    if figures is None:
        return
    yield phrase("gauges.from_memory" if figures.checked == "no" else "gauges.checked_partly")
    # A guard band moves the wear limit inward, too.
    past = figures.wear_past - figures.safety - (limits.guard_band or 0)
    worn = next((gauge.wear_limit for gauge in limits.gauges if gauge.wear_limit), None)
    if past > 0 and worn:
        yield phrase(
            "gauges.worn_past",
            figure("worn", worn, Measure.LENGTH),
            figure("past", past, Measure.MARGIN),
        )


class FitResult(LimitPairResult, frozen=True, kw_only=True, tag="fit"):
    """The limits of a tolerance class, and a stack for each."""

    lower_deviation: Annotated[Deviation, Meta(description="Lower limit less nominal size.")]
    upper_deviation: Annotated[Deviation, Meta(description="Upper limit less nominal size.")]
    minimum_clearance: Annotated[
        Difference | None,
        Meta(description="Smallest hole less largest shaft; negative for an interference."),
    ] = None
    maximum_clearance: Annotated[
        Difference | None, Meta(description="Largest hole less smallest shaft.")
    ] = None
