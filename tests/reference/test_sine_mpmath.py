"""The library's own sine and its kin against mpmath, a general-purpose library for real numbers."""

from decimal import Decimal, localcontext

import mpmath  # type: ignore[import-untyped]  # has no type information
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wrung import real
from wrung.angles import DEGREE, angle, from_radians, radians

ANGLES = st.integers(-89 * DEGREE, 89 * DEGREE)
RATIOS = st.decimals("-0.9999", "0.9999", allow_nan=False, places=20)
TOLERANCE = mpmath.mpf("1e-34")


def exact(value: Decimal) -> mpmath.mpf:
    return mpmath.mpf(str(value))


@pytest.fixture(autouse=True)
def _many_digits() -> None:
    mpmath.mp.dps = 60


@pytest.mark.parametrize("name", ["sin", "cos", "tan", "atan"])
@given(ANGLES)
def test_functions_of_an_angle_agree_to_34_places(name: str, quanta: int) -> None:
    ours = getattr(real, name)
    theirs = getattr(mpmath, name)
    x = radians(quanta)

    assert abs(exact(ours(x)) - theirs(exact(x))) < TOLERANCE * (1 + abs(theirs(exact(x))))


@pytest.mark.parametrize("name", ["asin", "acos", "atan"])
@given(RATIOS)
def test_angles_of_a_ratio_agree_to_34_places(name: str, ratio: Decimal) -> None:
    ours = getattr(real, name)

    assert abs(exact(ours(ratio)) - getattr(mpmath, name)(exact(ratio))) < TOLERANCE


@given(ANGLES)
def test_an_angle_survives_the_way_through_radians(quanta: int) -> None:
    assert from_radians(radians(quanta)) == quanta


@given(ANGLES)
def test_a_caller_with_few_digits_gets_the_same_result(quanta: int) -> None:
    with localcontext(prec=3):
        few = real.sin(radians(quanta))

    assert few == real.sin(radians(quanta))


def test_ends_of_the_arcs() -> None:
    assert from_radians(real.asin(Decimal(1))) == angle("90")
    assert from_radians(real.acos(Decimal(-1))) == angle("180")
    assert from_radians(real.atan(Decimal("-1e30"))) == angle("-90")
