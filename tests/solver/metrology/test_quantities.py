"""Input quantities: standard uncertainties of the usual distributions."""

from math import inf, sqrt

import pytest

from wrung.metrology.quantities import (
    Quantity,
    arcsine,
    between,
    exactly,
    expanded,
    freedom_of,
    normal,
    rectangular,
    triangular,
)


@pytest.mark.parametrize(
    ("value", "uncertainty", "limit"),
    [
        (rectangular(0.0, 3.0), sqrt(3), 3.0),
        (triangular(0.0, 6.0), sqrt(6), 6.0),
        (arcsine(0.0, 0.5), 0.3536, 0.5),
        (normal(0.0, 4.0), 4.0, 8.0),
        (expanded(0.0, 75.0, factor=3.0), 25.0, 75.0),
        (exactly(7.0), 0.0, 0.0),
    ],
)
def test_standard_uncertainty_and_limit(value: Quantity, uncertainty: float, limit: float) -> None:
    """GUM 4.3.7 and 4.3.9: half-width over √3 and √6; arcsine over √2 (H.1.3.4)."""
    assert value.uncertainty == pytest.approx(uncertainty, abs=1e-4)
    assert value.limit == limit


def test_unequal_limits_have_their_middle_as_estimate() -> None:
    """GUM 4.3.8, of limits +8 and -4: 2, within ±6."""
    value = between(-4.0, 8.0)

    assert (value.estimate, value.limit) == (2.0, 6.0)


def test_degrees_of_freedom_of_a_judgement() -> None:
    """GUM G.4.2 and H.1.6: uncertain by 10 % means 50, by 25 % 8, by 50 % 2."""
    assert [freedom_of(share) for share in (0.1, 0.25, 0.5)] == pytest.approx([50, 8, 2])
    assert freedom_of(0) == inf
