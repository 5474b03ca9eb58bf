"""How a block changes from calibration to calibration, and when it is due next.

A straight line through the certified deviations, each weighted by its standard uncertainty
(weighted least squares, as in ISO/TS 28037:2010, clause 6; from memory). Where the deviations
scatter more than their uncertainties explain, the uncertainty of the drift is enlarged by the root
of chi-squared over its degrees of freedom (the Birge ratio). Certificates count as independent:
what two of them share, such as the reference of one laboratory, cancels in their difference, so
that the uncertainty of the drift is on the safe side.
"""

from collections.abc import Iterable, Sequence
from datetime import date, timedelta
from math import inf, sqrt
from typing import Final

from msgspec import Struct

from wrung.blocks import Block, limits_of
from wrung.calibrations import DAYS_A_YEAR
from wrung.errors import InputError
from wrung.grades import Limits
from wrung.metrology.quantities import COVERAGE_FACTOR

FEWEST: Final = 2
"""Calibrations that give a drift."""

_STEP: Final = 10
"""Drifts are rounded to 0.1 nm: none is known better."""


class Calibrated(Struct, frozen=True, kw_only=True):
    """What one certificate says of a block; lengths in quanta of 0.01 nm."""

    on: date
    deviation: int
    expanded_uncertainty: int
    coverage_factor: float = 2.0
    due_on: date | None = None


class Drift(Struct, frozen=True, kw_only=True):
    """How a block changes; lengths in quanta of 0.01 nm a year.

    Attributes:
        calibrations: how many it was worked out from.
        first: day of the first of them.
        last: day of the last of them.
        a_year: change of the length in a year.
        expanded_uncertainty: of that change, with the coverage factor 2.
        scatter: chi-squared over its degrees of freedom; None for two calibrations, which lie on
            any line.
        due_on: the suggested last day of use: never later than the certificate states or, where it
            states none, than after as long as between the last two calibrations.
        by_limits: whether ``due_on`` is earlier for the limits: on the next day the block may be
            outside them, with the drift at the worse end of its uncertainty.
    """

    calibrations: int
    first: date
    last: date
    a_year: int
    expanded_uncertainty: int
    scatter: float | None
    due_on: date
    by_limits: bool

    @property
    def told_from_none(self) -> bool:
        """Whether the change is larger than its expanded uncertainty."""
        return abs(self.a_year) > self.expanded_uncertainty


def drift_of(points: Iterable[Calibrated], known: Limits | None = None) -> Drift | None:
    """The drift of one block; None where there are not two days of calibration.

    Args:
        points: its calibrations, in any order. Those with an uncertainty of 0 are left out: no
            calibration reaches that.
        known: the limits that its deviation has to keep, if they are known.
    """
    dated = sorted(
        (each for each in points if each.expanded_uncertainty > 0), key=lambda each: each.on
    )
    if len({each.on for each in dated}) < FEWEST:
        return None
    slope, standard, scatter = _line(dated)
    expanded = COVERAGE_FACTOR * standard
    due, by_limits = _due(dated, slope, expanded, known)
    return Drift(
        calibrations=len(dated),
        first=dated[0].on,
        last=dated[-1].on,
        a_year=round(slope / _STEP) * _STEP,
        expanded_uncertainty=round(expanded / _STEP) * _STEP,
        scatter=scatter,
        due_on=due,
        by_limits=by_limits,
    )


def calibrations_of(blocks: Iterable[Block]) -> tuple[Calibrated, ...]:
    """What certificates say of one block, from the block as each of them states it.

    Those without a day of calibration are left out.
    """
    return tuple(
        Calibrated(
            on=stated.calibrated_on,
            deviation=block.deviation,
            expanded_uncertainty=block.expanded_uncertainty or 0,
            coverage_factor=stated.coverage_factor,
            due_on=stated.due_on,
        )
        for block, stated in ((block, block.known_calibration) for block in blocks)
        if block.deviation is not None and stated.calibrated_on is not None
    )


def known_limits(block: Block) -> Limits | None:
    """What its maker promised of its deviation, or its grade does; None if neither is known."""
    try:
        return limits_of(block)
    except InputError:
        return None


def _line(points: Sequence[Calibrated]) -> tuple[float, float, float | None]:
    """Slope and its standard uncertainty, quanta a year, and chi-squared over its freedom."""
    years = [(each.on - points[0].on).days / DAYS_A_YEAR for each in points]
    weights = [(each.coverage_factor / each.expanded_uncertainty) ** 2 for each in points]
    total = sum(weights)
    middle = sum(w * x for w, x in zip(weights, years, strict=True)) / total
    level = sum(w * each.deviation for w, each in zip(weights, points, strict=True)) / total
    spread = sum(w * (x - middle) ** 2 for w, x in zip(weights, years, strict=True))
    rows = list(zip(weights, years, points, strict=True))
    slope = sum(w * (x - middle) * (each.deviation - level) for w, x, each in rows) / spread
    freedom = len(points) - 2
    if not freedom:
        return slope, 1 / sqrt(spread), None
    left = (each.deviation - level - slope * (x - middle) for _, x, each in rows)
    scatter = sum(w * rest**2 for w, rest in zip(weights, left, strict=True)) / freedom
    # Uncertainties that agree better than expected are no reason to claim more.
    return slope, sqrt(max(scatter, 1.0) / spread), scatter


def _due(
    points: Sequence[Calibrated], slope: float, expanded: float, known: Limits | None
) -> tuple[date, bool]:
    """The suggested last day of use, and whether it comes from the limits."""
    newest = points[-1]
    earlier = max(each.on for each in points if each.on < newest.on)
    latest = newest.due_on or newest.on + min(newest.on - earlier, date.max - newest.on)
    if known is None:
        return latest, False
    rising, falling = slope + expanded, expanded - slope
    years = min(
        _until(known.upper - newest.deviation, rising),
        _until(newest.deviation - known.lower, falling),
    )
    if years * DAYS_A_YEAR >= (latest - newest.on).days:
        return latest, False
    return newest.on + timedelta(days=int(years * DAYS_A_YEAR)), True


def _until(room: int, a_year: float) -> float:
    """Years until the room is used up; none where there is none any more."""
    if room < 0:
        return 0.0
    return room / a_year if a_year > 0 else inf
