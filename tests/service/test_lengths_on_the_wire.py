"""Lengths are taken by their digits, whether text or number, and never pass through a float."""

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec import Raw

from wrung.lengths import parse
from wrung_service.api.faults import Faults
from wrung_service.api.kinds.shapes import AngleShape
from wrung_service.api.stacks.lengths import LengthReader
from wrung_service.api.wire_lengths import LENGTH, OPTIONAL, SIGNED, NotALengthError, Shape

WHOLES = st.integers(0, 9_999)
DECIMALS = st.text("0123456789", min_size=1, max_size=8)


@given(whole=WHOLES, decimals=DECIMALS)
def test_text_and_number_of_the_same_digits_are_the_same_length(whole: int, decimals: str) -> None:
    """A number is as exact as text: 0.1 is a tenth, not the float nearest to it."""
    digits = f"{whole}.{decimals}"
    faults = Faults()
    reader = LengthReader(faults)

    from_text = reader.required(Raw(f'"{digits}"'.encode()), "mm", ("length",))
    from_number = reader.required(Raw(digits.encode()), "mm", ("length",))

    assert from_text == from_number == parse(digits, "mm")
    assert not faults.found


@pytest.mark.parametrize("raw", ["0.250", "250", "0", '"0.250"', '"\\u0030.250"'])
def test_the_clients_own_digits_are_kept(raw: str) -> None:
    """What is echoed is what was written, trailing zeros and all."""
    expected = json.loads(raw, parse_float=str, parse_int=str)

    assert LENGTH.text(Raw(raw.encode())) == expected


@pytest.mark.parametrize(
    "raw",
    [
        '"1e3"',
        '"NaN"',
        '"1\\n"',
        '"1_0"',
        '"1mm"',
        '""',
        "[]",
        "{}",
        "true",
        '"1,5"',
        '"-1"',
        "-1",
        "-0.001",
        '"\u0661"',
        '"1.0000000000001"',
        '"\udcff"',
    ],
)
def test_what_the_schema_forbids_is_no_length(raw: str) -> None:
    """Nothing is guessed or rounded."""
    with pytest.raises(NotALengthError):
        LENGTH.text(Raw(raw.encode("utf-8", "surrogateescape")))


@pytest.mark.parametrize("raw", ["1e13", "1E-10", "1e999999", "0.0000000001", "1" * 400])
def test_numbers_that_are_no_exact_lengths_are_meaningless(raw: str) -> None:
    """The schema cannot forbid them, so they are refused as meaning nothing, at once."""
    faults = Faults()

    LengthReader(faults).required(Raw(raw.encode()), "mm", ("length",))

    assert [fault.pointer for fault in faults.found] == ["/length"]
    assert not faults.breaks_schema


@pytest.mark.parametrize("raw", ['"-0.5"', "-0.5", '"-0"', "-0.0"])
def test_signed_lengths_may_be_negative(raw: str) -> None:
    """A deviation has a sign."""
    assert SIGNED.text(Raw(raw.encode())) == raw.strip('"')


@pytest.mark.parametrize("shape", [OPTIONAL, SIGNED])
def test_null_means_left_out(shape: Shape) -> None:
    """Many clients write null for what they do not have."""
    assert shape.text(Raw(b"null")) is None


def test_null_is_no_required_length() -> None:
    """A block without a nominal length is no block."""
    with pytest.raises(NotALengthError):
        LENGTH.text(Raw(b"null"))


@pytest.mark.parametrize(
    ("raw", "text"),
    [
        ('".375"', "0.375"),
        ('"+0.3750"', "0.3750"),
        ('"375."', "375"),
        ('" 01.50 "', "1.50"),
        ("2.5e-4", "0.00025"),
        ("1E2", "100"),
        ("1.5e+1", "15"),
    ],
)
def test_what_people_and_programs_write_is_taken_and_echoed_plainly(raw: str, text: str) -> None:
    """The echo is decimal text that every client can read; its digits are the client's."""
    assert LENGTH.text(Raw(raw.encode())) == text


@pytest.mark.parametrize("raw", ['"12,5"', '"1,234.5"', '",5"', '"0,48 rad"'])
@pytest.mark.parametrize("shape", [LENGTH, SIGNED, AngleShape()])
def test_a_decimal_comma_is_refused_for_that_reason(raw: str, shape: Shape) -> None:
    """Whatever the member measures."""
    with pytest.raises(NotALengthError, match="decimal comma"):
        shape.text(Raw(raw.encode()))
