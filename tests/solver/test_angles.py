"""Angles from text and back."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wrung.angles import DEGREE, MINUTE, SECOND, angle, to_degrees, to_dms, to_seconds
from wrung.errors import LengthError


@pytest.mark.parametrize(
    "text",
    [
        *("27.504305556", "27.504305556°", "27.504305556 deg", "27°30'15.5\"", "27d30m15.5s"),
        *(
            "27°30′15.5″",
            "027° 30′ 15.50″",
            "27º30’15.5”",
            "27°30'15.5''",
            "27°30'15.5",
            "+27°30.2583333333'",
        ),
        *("27deg 30min 15.5sec", " 27 ° 30 ′ 15.5 ″ ", "27\u202f°30\u00a0′15.5″"),
    ],
)
def test_every_way_to_write_an_angle_gives_the_same_one(text: str) -> None:
    exact = 27 * DEGREE + 30 * MINUTE + 31 * SECOND // 2

    assert abs(angle(text) - exact) < SECOND // 10**5


def test_minutes_may_stand_without_seconds_and_have_decimals() -> None:
    assert angle("33°15'") == angle("33.25") == angle("33° 15\N{PRIME}") == angle("33°15.0'")


def test_leading_zeros_and_signs_left_out_mean_what_they_say() -> None:
    assert angle("13°07′05″") == 13 * DEGREE + 7 * MINUTE + 5 * SECOND
    assert angle("62°15") == angle("62.25")
    assert angle(".5") == angle("30'") == angle('1800"') == 30 * MINUTE
    assert angle('5°30"') == 5 * DEGREE + 30 * SECOND
    assert angle("\u22120°30′") == -30 * MINUTE


def test_a_decimal_comma_is_refused_as_what_it_is() -> None:
    for text in ("27,5", "27°30,5'", "0,48 rad"):
        with pytest.raises(LengthError, match="decimal comma"):
            angle(text)


def test_radians_go_to_the_nearest_quantum() -> None:
    # pi/6 to 12 places is 30 degrees to 1e-7 seconds.
    assert abs(angle("0.523598775598 rad") - 30 * DEGREE) < SECOND // 10**6


@pytest.mark.parametrize(
    "text",
    [
        "",
        "27.5.1",
        "1e1",
        "NaN",
        "27°60'",
        "27°30'60\"",
        "°",
        "27 30 15",
        "27.5°30'",
        "٣",
        "27.5\n",
    ],
)
def test_anything_else_is_refused(text: str) -> None:
    with pytest.raises(LengthError):
        angle(text)


@given(st.integers(-(10**9), 10**9))
def test_milliseconds_survive_the_way_through_text(thousandths: int) -> None:
    quanta = thousandths * SECOND // 1000

    assert abs(angle(to_degrees(quanta)) - quanta) <= DEGREE // 10**9
    assert float(to_seconds(quanta)) * 1000 == pytest.approx(thousandths)


@given(st.integers(-(10**15), 10**15))
def test_every_angle_that_is_printed_is_read(quanta: int) -> None:
    """To half of the last digit printed."""
    assert abs(angle(to_degrees(quanta)) - quanta) <= DEGREE // 10**9 // 2 + 1
    assert abs(angle(to_dms(quanta)) - quanta) <= SECOND // 20
    assert abs(angle(f'{to_seconds(quanta)}"') - quanta) <= SECOND // 2000


def test_degrees_minutes_and_seconds_carry() -> None:
    assert to_dms(angle("59.9999999")) == "60°00'00.0\""
    assert to_dms(angle("-0°0'0.06\"")) == "-0°00'00.1\""
    assert to_dms(angle("-0°0'0.04\"")) == "0°00'00.0\""
