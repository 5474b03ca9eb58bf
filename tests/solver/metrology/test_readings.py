"""What a caliper or micrometer should read."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wrung.errors import InputError
from wrung.lengths import inch, mm
from wrung.metrology.readings import Instrument, check_instruments, expected_reading

CALIPER = Instrument(name="caliper", resolution=mm("0.01"))


@pytest.mark.parametrize(
    ("length", "resolution", "reading"),
    [
        (mm("58.345"), mm("0.01"), mm("58.35")),
        (mm("58.3449"), mm("0.01"), mm("58.34")),
        (mm("58.345"), mm("0.001"), mm("58.345")),
        (inch("1.3507"), inch("0.0005"), inch("1.3505")),
        (mm("25.4"), inch("0.0005"), inch("1")),
    ],
)
def test_nearest_reading(length: int, resolution: int, reading: int) -> None:
    instrument = Instrument(name="i", resolution=resolution)

    assert expected_reading(length, 0, instrument).reading == reading


def test_halfway_both_readings_agree() -> None:
    found = expected_reading(mm("58.345"), 0, CALIPER)

    assert (found.lowest, found.highest) == (mm("58.34"), mm("58.35"))


def test_permissible_error_and_uncertainty_widen_what_agrees() -> None:
    instrument = Instrument(name="c", resolution=mm("0.01"), permissible_error=mm("0.02"))

    found = expected_reading(mm("20"), mm("0.001"), instrument)

    assert (found.lowest, found.highest) == (mm("19.98"), mm("20.02"))


@given(st.integers(0, mm("500")), st.integers(0, mm("0.1")), st.integers(1, mm("0.1")))
def test_readings_are_in_order_and_within_a_step_of_the_length(
    length: int, uncertainty: int, resolution: int
) -> None:
    found = expected_reading(length, uncertainty, Instrument(name="i", resolution=resolution))

    assert found.lowest <= found.reading <= found.highest
    assert 2 * abs(found.reading - length) <= resolution
    assert found.reading % resolution == found.lowest % resolution == 0


def test_nonsense_is_refused() -> None:
    wrong = [CALIPER, Instrument(name="x", resolution=0, permissible_error=-1)]

    with pytest.raises(InputError) as caught:
        check_instruments(wrong)

    assert [fault.pointer for fault in caught.value.faults] == [
        "/instruments/1/resolution",
        "/instruments/1/permissible_error",
    ]
