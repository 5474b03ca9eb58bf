"""The drift of a block between calibrations, and the day it is due."""

from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from wrung.grades import Limits
from wrung.lengths import um
from wrung.metrology.drift import Calibrated, Drift, drift_of

FIRST = date(2020, 3, 1)
YEAR = 365.25


def calibrated(days: int, deviation: int, uncertainty: int, factor: float = 2.0) -> Calibrated:
    return Calibrated(
        on=FIRST + timedelta(days=days),
        deviation=deviation,
        expanded_uncertainty=uncertainty,
        coverage_factor=factor,
    )


CALIBRATIONS = st.lists(
    st.builds(
        calibrated,
        st.integers(0, 4000),
        st.integers(-um("0.5"), um("0.5")),
        st.integers(um("0.01"), um("0.2")),
        st.sampled_from((1.96, 2.0, 2.87)),
    ),
    min_size=2,
    max_size=8,
    unique_by=lambda each: each.on,
)


def drift(points: list[Calibrated], known: Limits | None = None) -> Drift:
    found = drift_of(points, known)
    assert found is not None
    return found


def test_the_line_of_a_published_example() -> None:
    """Equal weights, six points one unit apart: slope 1.757, its standard uncertainty 0.120.

    Source: ISO/TS 28037:2010, clause 6, first example; from memory, worked out again here.
    """
    year = 1461  # Four years of days, so that the points are whole days apart.
    figures = (3.3, 5.6, 7.1, 9.3, 10.7, 12.1)
    points = [
        calibrated(place * year, round(y * 1e5), round(2 * 0.5 * 1e5))
        for place, y in enumerate(figures)
    ]

    found = drift(points)

    assert found.a_year * 4 / 1e5 == pytest.approx(1.757, abs=5e-4)
    assert found.expanded_uncertainty / 2 * 4 / 1e5 == pytest.approx(0.120, abs=5e-4)
    # Chi-squared is 1.665 there, of 4 degrees of freedom.
    assert found.scatter == pytest.approx(1.665 / 4, abs=5e-4)


@settings(max_examples=50, deadline=None)
@given(CALIBRATIONS)
def test_slope_and_uncertainty_are_those_of_a_weighted_fit(points: list[Calibrated]) -> None:
    """numpy.polyfit, a general library, with unscaled covariance."""
    found = drift(points)
    x = np.array([(each.on - FIRST).days / YEAR for each in points])
    y = np.array([each.deviation for each in points], dtype=float)
    w = np.array([each.coverage_factor / each.expanded_uncertainty for each in points])
    (slope, level), covariance = np.polyfit(x, y, 1, w=w, cov="unscaled")
    standard = float(np.sqrt(covariance[0, 0]))
    if len(points) > 2:
        scatter = float(np.sum((w * (y - level - slope * x)) ** 2) / (len(points) - 2))
        assert found.scatter == pytest.approx(scatter, rel=1e-6, abs=1e-9)
        standard *= max(1.0, scatter) ** 0.5

    assert found.a_year == pytest.approx(float(slope), rel=1e-6, abs=6)
    assert found.expanded_uncertainty == pytest.approx(2 * standard, rel=1e-6, abs=6)


@settings(max_examples=80, deadline=None)
@given(CALIBRATIONS, st.integers(1, um("0.3")), st.sampled_from((None, 200)))
def test_a_due_date_is_never_extended(
    points: list[Calibrated], limit: int, stated: int | None
) -> None:
    """And up to the suggested day the drift, at its worse end, stays within the limits."""
    points = sorted(points, key=lambda each: each.on)
    newest = points[-1]
    latest = newest.on + (timedelta(days=stated) if stated else newest.on - points[-2].on)
    if stated:
        points[-1] = newest = Calibrated(
            on=newest.on,
            deviation=newest.deviation,
            expanded_uncertainty=newest.expanded_uncertainty,
            due_on=latest,
        )

    found = drift(points, Limits(upper=limit, lower=-limit))

    assert newest.on <= found.due_on <= latest
    assert found.by_limits == (found.due_on < latest)
    years = (found.due_on - newest.on).days / YEAR
    worst = max(
        abs(newest.deviation + years * (found.a_year + sign * found.expanded_uncertainty))
        for sign in (-1, 1)
    )
    assert worst <= limit + 12 * years or found.due_on == newest.on


def test_days_at_the_end_of_the_calendar_are_no_fault() -> None:
    points = [
        Calibrated(on=day, deviation=0, expanded_uncertainty=um("0.05"))
        for day in (date.min, date.max - timedelta(days=9))
    ]

    assert drift(points).due_on == date.max


def test_without_limits_or_two_days_there_is_less_to_say() -> None:
    one, other = calibrated(0, 0, um("0.05")), calibrated(365, um("9"), um("0.05"))

    assert drift_of([one]) is None
    assert drift_of([one, one]) is None
    assert drift_of([one, calibrated(365, 0, 0)]) is None
    found = drift([other, one])
    assert (found.due_on, found.by_limits, found.scatter) == (
        other.on + timedelta(days=365),
        False,
        None,
    )
    assert found.told_from_none
