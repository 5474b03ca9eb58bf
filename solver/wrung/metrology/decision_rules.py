"""Decision rules: guard bands, what they risk, and what they say of a measured size."""

from collections.abc import Iterator
from decimal import Decimal
from math import ceil, floor, hypot, inf, log
from typing import Final

from msgspec import Struct

from wrung.measures import Measure
from wrung.metrology.budget.rows import NM
from wrung.metrology.budget.stack import Budget
from wrung.metrology.purpose import Band, Purpose, Statement, Zone, share_of, statement_of
from wrung.metrology.quantities import COVERAGE_FACTOR
from wrung.metrology.risks import (
    band_for,
    overall_risks,
    spread_of,
    worst_false_accept,
)
from wrung.metrology.student import coverage_factor, quantile
from wrung.texts import Figure, Phrase, figure, phrase

_BOTH_TAILS: Final = 0.90
"""Coverage probability whose two-sided factor leaves 5 % on one side."""
_STEP: Final = 1.01
_MOST_FALSE_ACCEPT: Final = 0.02
"""ANSI/NCSL Z540.3, from memory."""


class Risks(Struct, frozen=True, kw_only=True):
    """What a decision rule risks, as probabilities.

    Attributes:
        false_accept_at_limit: that a part is outside its limits which was measured at the edge of
            the acceptance zone; None if there is no such zone.
        false_reject_at_limit: that a part is within them which was measured where rejection begins.
        false_accept: share of all parts that are accepted although outside; the largest for any
            spread of the parts, where it is not known how many are within the limits.
        false_reject: share that is within the limits and not accepted; None where that is not
            known.
    """

    false_accept_at_limit: float | None
    false_reject_at_limit: float
    false_accept: float
    false_reject: float | None


class Conformity(Struct, frozen=True, kw_only=True):
    """What is to be said of a measured size, quanta of 0.01 nm.

    Attributes:
        measured: the size.
        probability: that the part is within its limits.
        statement: by the four values of ILAC-G8; ``pass`` and ``fail`` are also what proves
            conformity and non-conformity by ISO 14253-1.
    """

    measured: int
    probability: float
    statement: Statement


def guard_band(budget: Budget, purpose: Purpose) -> int:
    """What to keep off each limit; an offset that is not allowed for comes on top."""
    # Added plainly: an offset is known, so it is no uncertainty to be added by squares.
    return abs(_offset(budget, purpose)) + ceil(_guard(budget, purpose))


def _guard(budget: Budget, purpose: Purpose) -> float:
    match purpose.guard:
        case "none":
            return 0
        case "expanded_uncertainty":
            return whole_uncertainty(budget, purpose)
        case "multiple":
            return (purpose.guard_multiple or 0.0) * whole_uncertainty(budget, purpose)
        case "one_sided_95":
            # One-sided, as a size is near one limit at a time (ISO 14253-1:2017, from memory).
            factor = coverage_factor(_BOTH_TAILS, budget.combined.degrees_of_freedom)
            return factor * _standard(budget, purpose)
        case "false_accept_2":
            unit, half = _as_if_normal(budget, purpose), _half(purpose)
            if not unit:
                return 0
            # Of the widths on either side, each of few and worked out once: neither the narrower
            # nor the wider one needs the wider band for any uncertainty.
            below = floor(log(half / unit, _STEP))
            near = (_STEP**below, _STEP ** (below + 1))
            share = purpose.in_tolerance
            return unit * max(band_for(_MOST_FALSE_ACCEPT, width, share) for width in near)


def _offset(budget: Budget, purpose: Purpose) -> int:
    """What the stack is known to be off and nobody allows for."""
    return 0 if purpose.corrected else budget.offset


def _half(purpose: Purpose) -> float:
    return (purpose.limits.upper - purpose.limits.lower) / 2


def whole_uncertainty(budget: Budget, purpose: Purpose) -> int:
    """Expanded uncertainty of the stack and of comparing with it, quanta."""
    return ceil(hypot(budget.corrected.expanded_uncertainty, purpose.comparison_uncertainty))


def _standard(budget: Budget, purpose: Purpose) -> float:
    comparing = purpose.comparison_uncertainty / COVERAGE_FACTOR
    return hypot(budget.combined.standard_uncertainty_nm * NM, comparing)


def _as_if_normal(budget: Budget, purpose: Purpose) -> float:
    """The standard uncertainty of a normal distribution that has this expanded uncertainty."""
    # Few degrees of freedom are so counted on the safe side; with many it is the standard one.
    stack = budget.combined.expanded_uncertainty_nm * NM
    unit = stack / quantile(budget.coverage_probability, inf)
    return hypot(unit, purpose.comparison_uncertainty / COVERAGE_FACTOR)


def risks(budget: Budget, purpose: Purpose, accepted: Zone, rejected: Zone) -> Risks:
    """What the rule risks whose zones these are."""
    edges = (accepted.lower, accepted.upper) if accepted.lower <= accepted.upper else ()
    at_edges = (1 - _conforming(budget, purpose, edge) for edge in edges)
    overall = _overall(budget, purpose, accepted)
    return Risks(
        false_accept_at_limit=max(at_edges, default=None),
        false_reject_at_limit=max(
            _conforming(budget, purpose, edge) for edge in (rejected.lower, rejected.upper)
        ),
        false_accept=overall[0],
        false_reject=overall[1],
    )


def risk_remarks(found: Risks, purpose: Purpose) -> Iterator[Phrase]:
    """What a rule risks, in sentences."""
    if found.false_accept_at_limit is not None:
        yield phrase("decision.at_limit", _percent("risk", found.false_accept_at_limit))
    accepted, share = _percent("accepted", found.false_accept), purpose.in_tolerance
    if share is None or found.false_reject is None:
        yield phrase("decision.any_share", accepted)
    else:
        rejected = _percent("rejected", found.false_reject)
        yield phrase("decision.share", accepted, rejected, _percent("share", share))


def _percent(name: str, probability: float) -> Figure:
    # Up, as a risk must not be said to be less than it is; what is exact stays so.
    hundredths = ceil(round(probability * 10_000, 6))
    return figure(name, f"{(Decimal(hundredths) / 100).normalize():f}", Measure.RATIO)


def _overall(budget: Budget, purpose: Purpose, accepted: Zone) -> tuple[float, float | None]:
    unit, half, share = _as_if_normal(budget, purpose), _half(purpose), purpose.in_tolerance
    if not unit:
        return 0.0, None if share is None else 0.0
    # From the middle of the limits, and as the true size is where the offset is counted.
    origin = purpose.limits.lower + half - _offset(budget, purpose)
    zone = Band(lower=(accepted.lower - origin) / unit, upper=(accepted.upper - origin) / unit)
    if share is None:
        return worst_false_accept(half / unit, zone), None
    found = overall_risks(half / unit, zone, spread_of(half / unit, share))
    return found.false_accept, found.false_reject


def _conforming(budget: Budget, purpose: Purpose, measured: int) -> float:
    """Probability that a part of that measured size is within its limits."""
    low, high = float(purpose.limits.lower), float(purpose.limits.upper)
    return share_of(
        Band(lower=low, upper=high),
        # The part is as much longer than it was found as the stack is.
        size=float(measured + _offset(budget, purpose)),
        uncertainty=_standard(budget, purpose),
        freedom=budget.combined.degrees_of_freedom,
    )


def conformity(
    budget: Budget, purpose: Purpose, accepted: Zone, rejected: Zone
) -> Conformity | None:
    """What is to be said of the measured size; None if there is none."""
    size = purpose.measured
    if size is None:
        return None
    return Conformity(
        measured=size,
        probability=_conforming(budget, purpose, size),
        statement=statement_of(size, limits=purpose.limits, accepted=accepted, rejected=rejected),
    )
