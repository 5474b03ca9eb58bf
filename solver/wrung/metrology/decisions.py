"""Is a stack good enough for a tolerance? Ratios, rules of thumb, and guard bands.

The ratio is the width of the part's tolerance over twice the stack's expanded uncertainty, as
ANSI/NCSL Z540.3 defines its test uncertainty ratio (from memory, not checked against print). That a
gauge should be ten times as good as the tolerance, at least four times, is common practice, no
source. Guard bands follow ISO 14253-1: from memory, not checked against print, its edition of 1998
takes the whole expanded uncertainty off each limit, that of 2017 by default 1.65 standard ones.

Only the stack's share is judged. Whatever compares it with the part has an uncertainty of its own.
"""

from decimal import Decimal
from fractions import Fraction
from math import ceil
from statistics import NormalDist
from typing import Final, Literal, TypeAlias

from msgspec import Struct

from wrung.errors import Fault, InputError
from wrung.measures import Measure
from wrung.metrology.budget.rows import NM
from wrung.metrology.budget.stack import Budget
from wrung.texts import Figure, Phrase, figure, phrase

Guard: TypeAlias = Literal["expanded_uncertainty", "one_sided_95"]
Verdict: TypeAlias = Literal["ten_to_one", "four_to_one", "below_four_to_one"]

TEN: Final = Fraction(10)
FOUR: Final = Fraction(4)
_ONE_SIDED: Final = NormalDist().inv_cdf(0.95)


class Zone(Struct, frozen=True, kw_only=True):
    """Sizes from ``lower`` to ``upper``, quanta of 0.01 nm."""

    lower: int
    upper: int


class Purpose(Struct, frozen=True, kw_only=True):
    """What a stack must be good enough for; lengths in quanta of 0.01 nm.

    Attributes:
        limits: smallest and largest allowed size of the part.
        corrected: whether the stack's known offset is allowed for in use.
        guard: how wide the guard bands are.
        required_ratio: smallest ratio asked for; None if none.
    """

    limits: Zone
    corrected: bool = False
    guard: Guard = "expanded_uncertainty"
    required_ratio: Fraction | None = None


class Decision(Struct, frozen=True, kw_only=True):
    """How a stack and a tolerance go together; lengths in quanta of 0.01 nm.

    Attributes:
        uncertainty: how far off the stack can be, as it was judged.
        ratio: width of the tolerance over twice that; None if there is no uncertainty at all.
        verdict: which rule of thumb it meets.
        ratio_met: whether it meets the required ratio, or four to one where none is required.
        guard_band: what is taken off each limit.
        acceptance_zone: sizes that are within the limits for sure; None if the guard bands leave
            none.
        reject_below: sizes below this are out of the limits for sure.
        reject_above: sizes above this are.
        warning: what to tell the user; None if there is nothing to warn of.
    """

    uncertainty: int
    ratio: Fraction | None
    verdict: Verdict
    ratio_met: bool
    guard_band: int
    acceptance_zone: Zone | None
    reject_below: int
    reject_above: int
    warning: Phrase | None


def decide(budget: Budget, purpose: Purpose) -> Decision:
    """Hold a stack's budget against a part's limits.

    Raises:
        InputError: the limits are not in order, or the required ratio is not positive.
    """
    _check(purpose)
    errors = budget.corrected if purpose.corrected else budget.uncorrected
    low, high = purpose.limits.lower, purpose.limits.upper
    # A fraction, so that just ten to one is not missed by a last bit.
    ratio = (
        Fraction(high - low, 2 * errors.expanded_uncertainty)
        if errors.expanded_uncertainty
        else None
    )
    band = _guard_band(budget, purpose)
    return Decision(
        uncertainty=errors.expanded_uncertainty,
        ratio=ratio,
        verdict=verdict(ratio),
        ratio_met=_meets(ratio, purpose.required_ratio or FOUR),
        guard_band=band,
        acceptance_zone=Zone(lower=low + band, upper=high - band)
        if low + band <= high - band
        else None,
        reject_below=low - band,
        reject_above=high + band,
        warning=_warning(ratio, purpose.required_ratio),
    )


def verdict(ratio: Fraction | None) -> Verdict:
    """The rule of thumb that a ratio meets; None is a stack without uncertainty."""
    if _meets(ratio, TEN):
        return "ten_to_one"
    return "four_to_one" if _meets(ratio, FOUR) else "below_four_to_one"


def _meets(ratio: Fraction | None, least: Fraction) -> bool:
    return ratio is None or ratio >= least


def _check(purpose: Purpose) -> None:
    if purpose.limits.lower >= purpose.limits.upper:
        raise InputError([Fault(pointer="/limits", detail="lower must be smaller than upper")])
    if purpose.required_ratio is not None and purpose.required_ratio <= 0:
        raise InputError([Fault(pointer="/required_ratio", detail="must be greater than zero")])


def _guard_band(budget: Budget, purpose: Purpose) -> int:
    """What to keep off each limit; an offset that is not allowed for comes on top."""
    offset = 0 if purpose.corrected else abs(budget.offset)
    # Added plainly: an offset is known, so it is no uncertainty to be added by squares.
    if purpose.guard == "expanded_uncertainty":
        return offset + budget.corrected.expanded_uncertainty
    # One-sided, as a size is near one limit at a time (ISO 14253-1:2017, from memory).
    return offset + ceil(_ONE_SIDED * budget.combined.standard_uncertainty_nm * NM)


def _warning(ratio: Fraction | None, required: Fraction | None) -> Phrase | None:
    if ratio is None:
        return None
    is_only = _ratio_figure("ratio", ratio)
    if required is not None and ratio < required:
        return phrase("decision.below_required", is_only, _ratio_figure("required", required))
    if ratio < FOUR:
        return phrase("decision.below_four", is_only)
    return phrase("decision.below_ten", is_only) if ratio < TEN else None


def _ratio_figure(name: str, ratio: Fraction) -> Figure:
    """A ratio to three digits, and without an exponent."""
    return figure(name, f"{Decimal(f'{float(ratio):.3g}'):f}", Measure.RATIO)
