"""Whether stacks are good enough for a part's tolerance, and what the rule risks, on the wire."""

from typing import Annotated, Final

from msgspec import Meta, Struct

from wrung.lengths import Unit, to_text
from wrung.metrology import Conformity, Decision, Zone
from wrung.metrology.decisions import Verdict
from wrung.metrology.purpose import Statement
from wrung.metrology.uncertainty_ratio import shown
from wrung_service.api.texts import DecimalText
from wrung_service.api.words import Words

_PLACES: Final = 6
"""Of a probability, as answers show it."""


class AcceptedSizes(Struct, frozen=True, kw_only=True):
    """Sizes that the decision rule accepts."""

    lower: Annotated[DecimalText, Meta(description="Smallest of them.")]
    upper: Annotated[DecimalText, Meta(description="Largest of them.")]


class DecisionRisks(Struct, frozen=True, kw_only=True):
    """What the decision rule risks, as probabilities; errors of measuring are taken to be normal.

    Those at a limit are of one part, of which nothing is known but its measured size. The others
    are shares of all parts.
    """

    false_accept_at_limit: Annotated[
        float | None,
        Meta(
            description="That a part measured at the edge of the acceptance zone is outside its "
            "limits; null without such a zone."
        ),
    ]
    false_reject_at_limit: Annotated[
        float,
        Meta(description="That a part measured where rejection begins is within its limits."),
    ]
    false_accept: Annotated[
        float,
        Meta(
            description="Share of all parts that are accepted although outside, with the "
            "`in_tolerance_share` sent, else the largest for any."
        ),
    ]
    false_reject: Annotated[
        float | None,
        Meta(
            description="Share of all parts that are not accepted although within the limits; null "
            "without an `in_tolerance_share`."
        ),
    ]
    sentences: Annotated[tuple[str, ...], Meta(description="The same for people to read.")]


class MeasuredConformity(Struct, frozen=True, kw_only=True):
    """What is to be said of the measured size."""

    measured: Annotated[DecimalText, Meta(description="The size, as sent.")]
    conformity_probability: Annotated[
        float, Meta(description="Probability that the part is within its limits.")
    ]
    statement: Annotated[
        Statement,
        Meta(
            description="`pass`: within the acceptance zone. `fail`: below `reject_below` or above "
            "`reject_above`. Between, `conditional_pass` within the limits and `conditional_fail` "
            "outside. By a rule with two values, all but `pass` fail (ILAC-G8)."
        ),
    ]


class StackDecision(Struct, frozen=True, kw_only=True):
    """Whether a stack is good enough for a part's tolerance.

    Only the stack is judged, with `comparison_uncertainty` if that was sent.
    """

    uncertainty: Annotated[
        DecimalText,
        Meta(
            description="The uncertainty that the decision uses, small unit: that of the stack, "
            "and of comparing with it if sent."
        ),
    ]
    test_uncertainty_ratio: Annotated[
        DecimalText | None,
        Meta(
            description="Test uncertainty ratio (TUR): width of the tolerance over twice that, "
            "rounded down; null if there is no uncertainty."
        ),
    ]
    verdict: Annotated[Verdict, Meta(description="Which rule of thumb it meets.")]
    ratio_met: Annotated[bool, Meta(description="Whether it meets the ratio required, or 4.")]
    guard_band: Annotated[
        DecimalText, Meta(description="Distance kept from each limit, small unit.")
    ]
    acceptance_zone: Annotated[
        AcceptedSizes | None,
        Meta(description="Sizes that may be accepted; null if the guard bands leave none."),
    ]
    reject_below: Annotated[
        DecimalText, Meta(description="Smaller sizes are outside the limits by the rule.")
    ]
    reject_above: Annotated[
        DecimalText, Meta(description="Larger sizes are outside the limits by the rule.")
    ]
    risks: Annotated[DecisionRisks, Meta(description="What the rule risks.")]
    conformity: Annotated[
        MeasuredConformity | None,
        Meta(description="What is to be said of `measured`; null if that was not sent."),
    ]
    warning: Annotated[
        str | None, Meta(description="A warning, as a sentence; null if there is none.")
    ]


def write_decision(decision: Decision, words: Words) -> StackDecision:
    """The decision as it stands on the wire."""
    unit, small, ratio = words.unit, words.small, decision.test_uncertainty_ratio
    return StackDecision(
        uncertainty=to_text(decision.uncertainty, small),
        test_uncertainty_ratio=None if ratio is None else f"{shown(ratio):f}",
        verdict=decision.verdict,
        ratio_met=decision.ratio_met,
        guard_band=to_text(decision.guard_band, small),
        acceptance_zone=_accepted(decision.acceptance_zone, unit),
        reject_below=to_text(decision.reject_below, unit),
        reject_above=to_text(decision.reject_above, unit),
        risks=_write_risks(decision, words),
        conformity=_write_conformity(decision.conformity, unit),
        warning=words.say(decision.warning) if decision.warning else None,
    )


def _write_risks(decision: Decision, words: Words) -> DecisionRisks:
    found = decision.risks
    return DecisionRisks(
        false_accept_at_limit=_probability(found.false_accept_at_limit),
        false_reject_at_limit=round(found.false_reject_at_limit, _PLACES),
        false_accept=round(found.false_accept, _PLACES),
        false_reject=_probability(found.false_reject),
        sentences=tuple(words.say(each) for each in decision.risk_remarks),
    )


def _write_conformity(found: Conformity | None, unit: Unit) -> MeasuredConformity | None:
    if found is None:
        return None
    return MeasuredConformity(
        measured=to_text(found.measured, unit),
        conformity_probability=round(found.probability, _PLACES),
        statement=found.statement,
    )


def _probability(found: float | None) -> float | None:
    return None if found is None else round(found, _PLACES)


def _accepted(zone: Zone | None, unit: Unit) -> AcceptedSizes | None:
    if zone is None:
        return None
    return AcceptedSizes(lower=to_text(zone.lower, unit), upper=to_text(zone.upper, unit))
