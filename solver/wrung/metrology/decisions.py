"""Is a stack good enough for a tolerance? Test uncertainty ratio, rules of thumb, decision rules.

The ratio is defined in `wrung.metrology.uncertainty_ratio`. Guard bands follow ISO 14253-1: from
memory, not checked against print, its edition of 1998 takes the whole expanded uncertainty off each
limit, that of 2017 by default as many standard ones as leave 5 % on one side: 1.65 where the
uncertainty is well known, by Student's t more where it is not. ILAC-G8:09/2019 has simple
acceptance (``none``), any multiple of the expanded uncertainty (``multiple``), and statements of
two or four values. ANSI/NCSL Z540.3 limits false acceptance over all parts to 2 %
(``false_accept_2``). What each risks is in `wrung.metrology.risks`.

Judged are the stack, and what compares it with the part as far as its uncertainty is stated.
"""

from fractions import Fraction
from typing import Literal, TypeAlias

from msgspec import Struct

from wrung.checked_types import typed
from wrung.measures import Measure
from wrung.metrology.budget.stack import Budget
from wrung.metrology.decision_rules import (
    Conformity,
    Risks,
    conformity,
    guard_band,
    risk_remarks,
    risks,
    whole_uncertainty,
)
from wrung.metrology.purpose import Purpose, Zone, check_purpose
from wrung.metrology.uncertainty_ratio import (
    FOUR,
    TEN,
    meets,
    ratio_figures,
    shown,
    uncertainty_ratio,
)
from wrung.texts import Phrase, figure, phrase

Verdict: TypeAlias = Literal["ten_to_one", "four_to_one", "below_four_to_one"]


class Decision(Struct, frozen=True, kw_only=True):
    """How a stack and a tolerance go together; lengths in quanta of 0.01 nm.

    Attributes:
        uncertainty: how far off the stack can be, as it was judged.
        test_uncertainty_ratio: width of the tolerance over twice that; None if there is no
            uncertainty at all.
        verdict: which rule of thumb it meets.
        ratio_met: whether it meets the required ratio, or four to one where none is required.
        guard_band: what is taken off each limit.
        acceptance_zone: sizes that the rule accepts; None if the guard bands leave none.
        reject_below: sizes below this are out of the limits by the rule.
        reject_above: sizes above this are.
        risks: what the rule risks.
        risk_remarks: the same in sentences.
        conformity: of a measured size; None if there is none.
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
    risks: Risks
    risk_remarks: tuple[Phrase, ...]
    conformity: Conformity | None
    warning: Phrase | None


@typed
def decide(budget: Budget, purpose: Purpose) -> Decision:
    """Hold a stack's budget against a part's limits.

    Raises:
        InputError: the limits are not in order, the required ratio is not positive, or a figure of
            the decision rule is missing or out of its range.
    """
    check_purpose(purpose)
    # An offset that is not allowed for adds to it plainly (GUM F.2.4.5).
    known = 0 if purpose.corrected else abs(budget.offset)
    uncertainty = known + whole_uncertainty(budget, purpose)
    low, high = purpose.limits.lower, purpose.limits.upper
    ratio = uncertainty_ratio(high - low, uncertainty)
    band = guard_band(budget, purpose)
    accepted = Zone(lower=low + band, upper=high - band)
    # A band that widens acceptance leaves nothing between it and rejection.
    rejected = Zone(lower=low - abs(band), upper=high + abs(band))
    risked = risks(budget, purpose, accepted, rejected)
    return Decision(
        uncertainty=uncertainty,
        test_uncertainty_ratio=ratio,
        verdict=verdict(ratio),
        ratio_met=meets(ratio, purpose.required_ratio or FOUR),
        guard_band=band,
        acceptance_zone=accepted if accepted.lower <= accepted.upper else None,
        reject_below=rejected.lower,
        reject_above=rejected.upper,
        risks=risked,
        risk_remarks=tuple(risk_remarks(risked, purpose)),
        conformity=conformity(budget, purpose, accepted, rejected),
        warning=_warning(ratio, high - low, uncertainty, purpose.required_ratio),
    )


def verdict(ratio: Fraction | None) -> Verdict:
    """The rule of thumb that a ratio meets; None is a stack without uncertainty."""
    if meets(ratio, TEN):
        return "ten_to_one"
    return "four_to_one" if meets(ratio, FOUR) else "below_four_to_one"


def _warning(
    ratio: Fraction | None, width: int, uncertainty: int, required: Fraction | None
) -> Phrase | None:
    if ratio is None:
        return None
    figures = (
        *ratio_figures(ratio, width),
        figure("uncertainty", uncertainty, Measure.MARGIN),
    )
    if required is not None and ratio < required:
        least = figure("required", f"{shown(required):f}", Measure.RATIO)
        return phrase("ratio.below_required", *figures, least)
    if ratio < FOUR:
        return phrase("ratio.below_four", *figures)
    return phrase("ratio.below_ten", *figures) if ratio < TEN else None
