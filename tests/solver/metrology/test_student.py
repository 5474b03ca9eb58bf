"""Coverage factors against SciPy and against printed tables."""

from math import inf

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats  # type: ignore[import-untyped]  # comes without type information

from wrung.metrology.student import coverage_factor, quantile

PROBABILITIES = st.floats(0.01, 0.9999)


@given(PROBABILITIES, st.floats(1, 1e7))
def test_quantiles_agree_with_scipy(probability: float, freedom: float) -> None:
    expected = stats.t.ppf((1 + probability) / 2, freedom)

    assert quantile(probability, freedom) == pytest.approx(expected, rel=1e-9)


@given(PROBABILITIES)
def test_without_end_it_is_the_normal_quantile(probability: float) -> None:
    assert quantile(probability, inf) == pytest.approx(
        stats.norm.ppf((1 + probability) / 2), rel=1e-12
    )


@pytest.mark.parametrize(
    ("freedom", "probability", "printed"),
    [
        # GUM table G.2, as widely reprinted; from memory, not checked against print.
        (1, 0.95, 12.71),
        (5, 0.95, 2.57),
        (16, 0.99, 2.92),
        (16, 0.95, 2.12),
        (50, 0.9545, 2.05),
        (inf, 0.9545, 2.00),
    ],
)
def test_printed_table(freedom: float, probability: float, printed: float) -> None:
    assert round(coverage_factor(probability, freedom), 2) == printed


def test_degrees_of_freedom_are_cut_to_a_whole_number() -> None:
    """16.75 counts as 16 (GUM G.4.1), and less than 1 as 1."""
    assert coverage_factor(0.95, 16.75) == quantile(0.95, 16)
    assert coverage_factor(0.95, 0.4) == quantile(0.95, 1)


@pytest.mark.parametrize(("probability", "freedom"), [(0, 5), (1, 5), (0.95, 0.5), (0.95, -1)])
def test_arguments_out_of_range_are_refused(probability: float, freedom: float) -> None:
    with pytest.raises(ValueError, match="between 0 and 1"):
        quantile(probability, freedom)
