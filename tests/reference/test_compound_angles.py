"""Compound sine plates against rotation matrices in numpy, and against published formulas."""

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wrung.angles import DEGREE, MINUTE, SECOND, angle
from wrung.targets.compound_sine import plane, settings

SETTINGS = st.integers(1, 85 * 60)


def normal(base: float, top: float) -> npt.NDArray[np.float64]:
    """The normal of the top plate: its hinge lies along x on the base plate, that one's along y."""
    a, b = np.radians([base, top])
    about_y = np.array([[np.cos(a), 0, -np.sin(a)], [0, 1, 0], [np.sin(a), 0, np.cos(a)]])
    about_x = np.array([[1, 0, 0], [0, np.cos(b), -np.sin(b)], [0, np.sin(b), np.cos(b)]])
    return np.array(about_y @ about_x @ np.array([0.0, 0.0, 1.0]))


def slopes(base: float, top: float) -> tuple[float, float]:
    """Angles of the surface's traces in the vertical planes xz and yz."""
    x, y, z = normal(base, top)
    return float(np.degrees(np.arctan2(-x, z))), float(np.degrees(np.arctan2(-y, z)))


@given(SETTINGS, SETTINGS)
def test_a_plane_is_what_two_rotations_make(base: int, top: int) -> None:
    made = plane(base * MINUTE, top * MINUTE)
    first, second = slopes(base / 60, top / 60)
    tilt = np.degrees(np.arccos(normal(base / 60, top / 60)[2]))

    assert made.first_view / DEGREE == pytest.approx(first, abs=1e-9)
    assert made.second_view / DEGREE == pytest.approx(second, abs=1e-9)
    assert made.true_tilt / DEGREE == pytest.approx(tilt, abs=1e-6)


@given(SETTINGS, SETTINGS)
def test_views_are_held_by_their_settings(first: int, second: int) -> None:
    base, top = settings("views", first * MINUTE, second * MINUTE)

    assert slopes(base / DEGREE, top / DEGREE) == pytest.approx((first / 60, second / 60), abs=1e-9)


@given(SETTINGS, st.integers(1, 89 * 60))
def test_a_true_tilt_rises_in_its_direction(tilt: int, direction: int) -> None:
    base, top = settings("true_tilt", tilt * MINUTE, direction * MINUTE)
    x, y, z = normal(base / DEGREE, top / DEGREE)

    assert np.degrees(np.arccos(z)) == pytest.approx(tilt / 60, abs=1e-6)
    assert np.degrees(np.arctan2(-y, -x)) == pytest.approx(direction / 60, abs=1e-6)


@given(SETTINGS, st.integers(0, 90 * 60))
def test_the_plane_of_a_true_tilt_is_that_tilt_again(tilt: int, direction: int) -> None:
    made = plane(*settings("true_tilt", tilt * MINUTE, direction * MINUTE))

    assert abs(made.true_tilt - tilt * MINUTE) < SECOND // 1000
    assert abs(made.direction - direction * MINUTE) < SECOND // 1000


@pytest.mark.parametrize(
    ("first", "second", "base", "top"),
    [
        # Computed by hand from tan B = tan(view) cos A; instructions of a maker of compound plates
        # (auto-met.com, "Compound angle compensation") give the same rule.
        ("20", "25", "20", "23.662353"),
        ("10", "15", "10", "14.782166"),
        ("30", "30", "30", "26.565051"),
    ],
)
def test_worked_views(first: str, second: str, base: str, top: str) -> None:
    found = settings("views", angle(first), angle(second))

    assert found[0] == pytest.approx(angle(base), abs=SECOND // 100)
    assert found[1] == pytest.approx(angle(top), abs=SECOND // 100)


def test_worked_settings() -> None:
    """20 and 25 degrees at the hinges: tilt 31.60833, second view 26.39218, computed by hand."""
    made = plane(angle("20"), angle("25"))

    assert made.true_tilt == pytest.approx(angle("31.60833"), abs=SECOND // 20)
    assert made.second_view == pytest.approx(angle("26.39218"), abs=SECOND // 20)


def test_the_handbook_formula_for_the_resultant_angle() -> None:
    """Machinery's Handbook, compound angles: tan R = tan A1 / tan B1, tan C1 = tan B1 / cos R."""
    made = plane(*settings("views", angle("30"), angle("40")))
    r = np.arctan(np.tan(np.radians(40)) / np.tan(np.radians(30)))
    c = np.arctan(np.tan(np.radians(30)) / np.cos(r))

    assert made.direction / DEGREE == pytest.approx(np.degrees(r), abs=1e-7)
    assert made.true_tilt / DEGREE == pytest.approx(np.degrees(c), abs=1e-7)
