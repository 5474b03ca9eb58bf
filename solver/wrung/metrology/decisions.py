"""Is a stack good enough for a tolerance? Test uncertainty ratio, rules of thumb, guard bands.

The ratio is defined in `wrung.metrology.uncertainty_ratio`. Guard bands follow ISO 14253-1: from
memory, not checked against print, its edition of 1998 takes the whole expanded uncertainty off each
limit, that of 2017 by default as many standard ones as leave 5 % on one side: 1.65 where the
uncertainty is well known, by Student's t more where it is not.

Only the stack's share is judged. Whatever compares it with the part has an uncertainty of its own.
"""

from fractions import Fraction
from math import ceil
from typing import Final, Literal, TypeAlias

from msgspec import Struct

from wrung.checked_types import CheckedStruct, typed
from wrung.errors import Fault, InputError
from wrung.measures import Measure
from wrung.metrology.budget.rows import NM
from wrung.metrology.budget.stack import Budget
from wrung.metrology.student import coverage_factor
from wrung.metrology.uncertainty_ratio import FOUR, TEN, meets, shown, uncertainty_ratio
from wrung.texts import Phrase, figure, phrase

Guard: TypeAlias = Literal["expanded_uncertainty", "one_sided_95"]
Verdict: TypeAlias = Literal["ten_to_one", "four_to_one", "below_four_to_one"]

_BOTH_TAILS: Final = 0.90
"""Coverage probability whose two-sided factor leaves 5 % on one side."""


class Zone(Struct, frozen=True, kw_only=True):
    """Sizes from ``lower`` to ``upper``, quanta of 0.01 nm."""

    lower: int
    upper: int


class Purpose(CheckedStruct, frozen=True, kw_only=True):
    """What a stack must be good enough for; lengths in quanta of 0.01 nm.

    Attributes:
        limits: smallest and largest allowed size of the part.
        corrected: whether the stack's known offset is allowed for in use.
        guard: how wide the guard bands are.
        required_ratio: smallest test uncertainty ratio asked for; None if none.
    """

    limits: Zone
    corrected: bool = False
    guard: Guard = "expanded_uncertainty"
    required_ratio: Fraction | None = None


class Decision(Struct, frozen=True, kw_only=True):
    """How a stack and a tolerance go together; lengths in quanta of 0.01 nm.

    Attributes:
        uncertainty: how far off the stack can be, as it was judged.
        test_uncertainty_ratio: width of the tolerance over twice that; None if there is no
            uncertainty at all.
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
    test_uncertainty_ratio: Fraction | None
    verdict: Verdict
    ratio_met: bool
    guard_band: int
    acceptance_zone: Zone | None
    reject_below: int
    reject_above: int
    warning: Phrase | None


@typed
def decide(budget: Budget, purpose: Purpose) -> Decision:
    """Hold a stack's budget against a part's limits.

    Raises:
        InputError: the limits are not in order, or the required ratio is not positive.
    """
    _check(purpose)
    errors = budget.corrected if purpose.corrected else budget.uncorrected
    low, high = purpose.limits.lower, purpose.limits.upper
    ratio = uncertainty_ratio(high - low, errors.expanded_uncertainty)
    band = _guard_band(budget, purpose)
    return Decision(
        uncertainty=errors.expanded_uncertainty,
        test_uncertainty_ratio=ratio,
        verdict=verdict(ratio),
        ratio_met=meets(ratio, purpose.required_ratio or FOUR),
        guard_band=band,
        acceptance_zone=Zone(lower=low + band, upper=high - band)
        if low + band <= high - band
        else None,
        reject_below=low - band,
        reject_above=high + band,
        warning=_warning(ratio, high - low, errors.expanded_uncertainty, purpose.required_ratio),
    )


def verdict(ratio: Fraction | None) -> Verdict:
    """The rule of thumb that a ratio meets; None is a stack without uncertainty."""
    if meets(ratio, TEN):
        return "ten_to_one"
    return "four_to_one" if meets(ratio, FOUR) else "below_four_to_one"


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
    factor = coverage_factor(_BOTH_TAILS, budget.combined.degrees_of_freedom)
    return offset + ceil(factor * budget.combined.standard_uncertainty_nm * NM)


def _warning(
    ratio: Fraction | None, width: int, uncertainty: int, required: Fraction | None
) -> Phrase | None:
    if ratio is None:
        return None
    figures = (
        figure("ratio", str(shown(ratio)), Measure.RATIO),
        figure("tolerance", width, Measure.MARGIN),
        figure("uncertainty", uncertainty, Measure.MARGIN),
    )
    if required is not None and ratio < required:
        least = figure("required", f"{shown(required):f}", Measure.RATIO)
        return phrase("ratio.below_required", *figures, least)
    if ratio < FOUR:
        return phrase("ratio.below_four", *figures)
    return phrase("ratio.below_ten", *figures) if ratio < TEN else None
