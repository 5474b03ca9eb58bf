"""Risks of decision rules against published figures and against SciPy's bivariate normal."""

from math import exp, inf, log, sqrt

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats  # type: ignore[import-untyped]  # comes without type information

from wrung.metrology.purpose import Band, share_of
from wrung.metrology.risks import (
    band_for,
    overall_risks,
    spread_of,
    worst_false_accept,
)

MOST = 0.02


def within(half: float) -> Band:
    return Band(lower=-half, upper=half)


@pytest.mark.parametrize(
    ("multiple", "most"), [(0.0, 0.50), (1.0, 0.025), (1.5, 0.0016), (3.0, 1e-6)]
)
def test_one_size_by_the_rules_of_ilac_g8(multiple: float, most: float) -> None:
    """ILAC-G8:09/2019: false acceptance below 50 % for w = 0, below 2.5 % for w = U.

    Those two are printed by a laboratory that works by it (its page on decision rules); 1.5 U below
    0.16 % and 3 U below 1e-6 are from memory.
    """
    width = 100.0
    risk = 1 - share_of(Band(lower=0, upper=width), size=width - 2 * multiple, uncertainty=1.0)

    assert 0.8 * most < risk <= most or multiple == 3.0
    assert risk <= most


def test_zener_diode_of_jcgm_106() -> None:
    """JCGM 106:2012, 7.3, from memory: at most -5.40 V, measured -5.47 V, u 0.05 V: 0.92."""
    found = share_of(Band(lower=-inf, upper=-5.40), size=-5.47, uncertainty=0.05)

    assert round(found, 2) == 0.92


def test_four_to_one_with_95_percent_of_the_parts_good() -> None:
    """Less than 1 % false acceptance, a little over 1.5 % false rejection: k = 2.

    As an article of a calibration laboratory prints it ("Why a 4:1 TUR is not enough", 2019).
    """
    half = 4 * 2.0
    risks = overall_risks(half, within(half), spread_of(half, 0.95))

    assert 0.008 < risks.false_accept < 0.01
    assert 0.015 < risks.false_reject < 0.016


@pytest.mark.parametrize("ratio", [1.0, 1.5, 2.0, 3.0, 4.0])
def test_two_percent_for_any_share_of_good_parts(ratio: float) -> None:
    """The band over U is 1.04 - exp(0.38 ln TUR - 0.54) (M. Dobbert, NCSLI 2008, from memory).

    That fit is a little on the safe side of the integral.
    """
    fitted = 1.04 - exp(0.38 * log(ratio) - 0.54)

    assert fitted - 0.016 < band_for(MOST, 2 * ratio, None) / 2 < fitted


def test_no_band_from_4_6_to_1_on() -> None:
    """From there on the fit of Dobbert is 0, too."""
    assert band_for(MOST, 2 * 4.6, None) == 0


@settings(max_examples=25, deadline=None)
@given(
    half=st.floats(0.5, 12),
    band=st.floats(-1.5, 2.5),
    shift=st.floats(-1, 1),
    spread=st.floats(0.2, 8),
)
def test_shares_are_those_of_the_bivariate_normal(
    half: float, band: float, shift: float, spread: float
) -> None:
    lower, upper = band - half + shift, half - band + shift
    if upper <= lower:
        return
    true, found = spread**2, spread**2 + 1
    joint = stats.multivariate_normal([0, 0], [[true, true], [true, found]])
    both = sum(
        sign * joint.cdf([a, b])
        for a, b, sign in (
            (half, upper, 1),
            (-half, upper, -1),
            (half, lower, -1),
            (-half, lower, 1),
        )
    )
    accepted = stats.norm.cdf(upper / sqrt(found)) - stats.norm.cdf(lower / sqrt(found))
    good = stats.norm.cdf(half / spread) - stats.norm.cdf(-half / spread)

    risks = overall_risks(half, Band(lower=lower, upper=upper), spread)

    assert risks.false_accept == pytest.approx(accepted - both, abs=2e-7)
    assert risks.false_reject == pytest.approx(good - both, abs=2e-7)


@given(size=st.floats(-8, 8), freedom=st.sampled_from([1.0, 4.0, 30.0, inf]))
def test_one_size_is_that_of_students_t(size: float, freedom: float) -> None:
    spread = stats.norm if freedom == inf else stats.t(freedom)

    found = share_of(within(3.0), size=size, uncertainty=1.0, freedom=freedom)

    assert found == pytest.approx(spread.cdf(3 - size) - spread.cdf(-3 - size), abs=1e-9)


@settings(max_examples=15, deadline=None)
@given(half=st.floats(0.5, 9), share=st.none() | st.floats(0.05, 0.999))
def test_the_band_is_the_smallest_that_keeps_the_limit(half: float, share: float | None) -> None:
    def risk(band: float) -> float:
        if share is None:
            return worst_false_accept(half, within(half - band))
        return overall_risks(half, within(half - band), spread_of(half, share)).false_accept

    band = band_for(MOST, half, share)

    assert risk(band) <= MOST + 1e-9
    assert band == 0 or risk(band - half / 2000) > MOST
