"""EA-4/02, supplement S4: calibration of a 50 mm gauge block of grade 0 by comparison.

Model as in a public worked file (metrodata.de, S04.smu); figures from memory, not checked against
print, and in agreement with one another. An older edition carries the drift as rectangular.
"""

from math import sqrt

import pytest

from wrung.metrology.budget.combining import combine
from wrung.metrology.budget.rows import Row, product, row
from wrung.metrology.quantities import expanded, normal, rectangular, triangular

L_MM = 50.0


def rows() -> list[Row]:
    return [
        row("certified_length", "lS", expanded(20.0, 30.0)),
        row("drift", "dlD", triangular(0.0, 30.0)),
        row("extra", "dl", normal(-94.0, 12 / sqrt(5))),
        row("extra", "dlC", rectangular(0.0, 32.0)),
        row("temperature", "dt", rectangular(0.0, 0.05), unit="K", sensitivity=-L_MM * 11.5),
        product("dalpha x dt_av", triangular(0.0, 2.0), rectangular(0.0, 0.5), -L_MM),
        row("variation_in_length", "dlV", rectangular(0.0, 6.7), sensitivity=-1.0),
    ]


@pytest.mark.parametrize(
    ("place", "nm"), [(0, 15.0), (1, 12.2), (2, 5.37), (3, 18.5), (4, 16.6), (5, 11.8), (6, 3.87)]
)
def test_contributions(place: int, nm: float) -> None:
    """Each row of the supplement's table."""
    assert abs(rows()[place].contribution_nm) == pytest.approx(nm, abs=0.06)


def test_combined_uncertainty() -> None:
    """u(lX) = 34.3 nm, U = 69 nm with k = 2."""
    found = combine(rows(), coverage_probability=0.9545)

    assert found.standard_uncertainty_nm == pytest.approx(34.3, abs=0.05)
    assert found.coverage_factor == pytest.approx(2.0, abs=0.001)
    assert round(found.expanded_uncertainty_nm) == 69


def test_drift_taken_as_rectangular() -> None:
    """The older edition: 36.4 nm, U = 73 nm."""
    older = [rows()[0], row("drift", "dlD", rectangular(0.0, 30.0)), *rows()[2:]]

    found = combine(older, coverage_probability=0.9545)

    assert found.standard_uncertainty_nm == pytest.approx(36.4, abs=0.05)
    assert round(found.expanded_uncertainty_nm) == 73
