"""Exact lengths: text to quanta and back, held against rational arithmetic."""

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from wrung.errors import LengthError
from wrung.lengths import (
    LONGEST,
    QUANTA,
    SMALL_UNIT,
    AnyUnit,
    inch,
    mm,
    parse,
    plain,
    to_text,
    uin,
    um,
    without_exponent,
)

UNITS = st.sampled_from(list(QUANTA))
# Decimal text that every unit can hold exactly: whole quanta of mm and um, 4 decimals of an inch.
DECIMALS: dict[AnyUnit, int] = {"mm": 8, "in": 7, "um": 5, "uin": 1}


@st.composite
def texts(draw: st.DrawFn) -> tuple[str, AnyUnit]:
    """Decimal text that is a whole number of quanta, and its unit."""
    unit = draw(UNITS)
    decimals = draw(st.integers(0, DECIMALS[unit]))
    most = LONGEST * 10**decimals // QUANTA[unit]
    digits = f"{draw(st.integers(0, most)):0{decimals + 1}d}"
    return (f"{digits[:-decimals]}.{digits[-decimals:]}" if decimals else digits), unit


@given(texts())
@example(("0", "mm"))
@example(("12.34550000", "mm"))
@example(("0.1000250", "in"))
def test_text_is_read_exactly(case: tuple[str, AnyUnit]) -> None:
    """The quanta are the text's rational value over that of a quantum."""
    text, unit = case

    assert parse(text, unit) == Fraction(text) * QUANTA[unit]


@given(texts())
def test_text_written_back_has_the_same_value_and_no_trailing_zeros(
    case: tuple[str, AnyUnit],
) -> None:
    """Reading and writing changes the form of a text only."""
    text, unit = case

    written = to_text(parse(text, unit), unit)

    assert Fraction(written) == Fraction(text)
    assert "." not in written or not written.endswith(("0", "."))


@given(st.integers(-LONGEST, LONGEST), st.sampled_from(["mm", "um"]))
def test_every_quantum_survives_metric_text(quanta: int, unit: AnyUnit) -> None:
    """Any number of quanta has an exact decimal text in mm and um."""
    assert parse(to_text(quanta, unit), unit, signed=True) == quanta


@given(st.integers(-LONGEST, LONGEST), st.sampled_from(["in", "uin"]))
@example(1, "in")
@example(-1, "uin")
@example(254_000_000, "in")
@example(LONGEST, "in")
def test_every_quantum_is_found_again_from_inch_text(quanta: int, unit: AnyUnit) -> None:
    """A metric length in inches is rounded so that the nearest quantum is the one it was."""
    value = Fraction(to_text(quanta, unit)) * QUANTA[unit]

    assert round(value) == quanta
    assert parse(to_text(quanta, unit), unit, signed=True) == quanta
    assert abs(value - quanta) < Fraction(1, 2)


@given(st.integers(0, LONGEST), UNITS)
def test_text_is_the_nearest_of_its_decimals(quanta: int, unit: AnyUnit) -> None:
    """No other text of ten decimals of an inch, or four of a microinch, lies nearer."""
    places = {"mm": 8, "um": 5, "in": 10, "uin": 4}[unit]

    error = Fraction(to_text(quanta, unit)) - Fraction(quanta, QUANTA[unit])

    assert abs(error) <= Fraction(1, 2 * 10**places)


@given(texts())
def test_negative_text_is_read_only_where_a_sign_makes_sense(case: tuple[str, AnyUnit]) -> None:
    """A deviation may be negative, a length may not."""
    text, unit = case
    quanta = parse(text, unit)

    assert parse(f"-{text}", unit, signed=True) == -quanta
    if quanta:
        with pytest.raises(LengthError, match="negative"):
            parse(f"-{text}", unit)


@pytest.mark.parametrize(
    "text",
    [
        *("NaN", "nan", "Infinity", "inf", "-Infinity", "sNaN", "1e5", "1E5", "1e999999", "1e-3"),
        *("", " ", "-", ".", "+.", "--1", "+-1", "1_000", "1.2.3", "0x10", "- 1"),
        *("1\n", "\n1", "1\t", "1\x00", "1\u00a0", "1/2", "1 1/2", '1"', "1mm", "1 000"),
        "\uff11.\uff15",  # full-width digits
        "\u0661",  # Arabic-Indic digit
        "1.0000000000001",  # thirteen decimals
        "9" * 13,
        "9" * 100_000,
        "0." + "0" * 100_000 + "1",
    ],
)
def test_text_that_is_not_plain_decimal_is_refused(text: str) -> None:
    """Whatever `int`, `float` or `Decimal` would also take, only plain decimals are lengths."""
    with pytest.raises(LengthError, match="plain decimal"):
        parse(text, "mm", signed=True)


@pytest.mark.parametrize(
    ("text", "read_as"),
    [
        (".375", "0.375"),
        ("+0.375", "0.375"),
        ("0.375000000000000000", "0.375"),
        ("375.", "375"),
        ("007.5", "7.5"),
        ("-.5", "-0.5"),
        ("\u22120.5", "-0.5"),  # the minus sign of typesetting, instead of a hyphen
        (" 1.5 ", "1.5"),
    ],
)
def test_what_people_type_is_read(text: str, read_as: str) -> None:
    """Forms in use that can mean one thing only."""
    assert parse(text, "mm", signed=True) == parse(read_as, "mm", signed=True)


@pytest.mark.parametrize("text", ["1,5", "1,234.5", "1.234,5", ",5", "-0,5", "12,5 "])
def test_a_decimal_comma_is_refused_as_what_it_is(text: str) -> None:
    """It may be a thousands separator as well, so it is never guessed at."""
    with pytest.raises(LengthError, match="decimal comma"):
        parse(text, "mm", signed=True)


@given(texts())
def test_the_plain_form_is_the_same_length_and_its_own_plain_form(
    case: tuple[str, AnyUnit],
) -> None:
    """With all that people may put around it."""
    text, unit = case
    bare = text.removeprefix("0") if text.startswith("0.") else text

    for typed in (text, f"+{text}", f"00{text}", f" {bare} "):
        assert parse(plain(typed), unit) == parse(text, unit)
        assert plain(plain(typed)) == plain(typed)


@given(st.decimals(allow_nan=False, allow_infinity=False, places=4), st.integers(-20, 20))
def test_a_short_exponent_only_moves_the_point(value: Decimal, exponent: int) -> None:
    """Held against `Decimal`."""
    number = f"{value:f}e{exponent}"

    assert Decimal(without_exponent(number)) == Decimal(number)


def test_a_refusal_does_not_repeat_a_huge_text() -> None:
    """The message stays short whatever was sent."""
    with pytest.raises(LengthError) as caught:
        parse("9" * 100_000, "mm")

    assert len(str(caught.value)) < 120


@given(st.text())
def test_any_text_is_read_or_refused(text: str) -> None:
    """Nothing but a length or a LengthError comes out."""
    try:
        quanta = parse(text, "mm", signed=True)
    except LengthError:
        return

    assert quanta == Fraction(plain(text)) * QUANTA["mm"]


@pytest.mark.parametrize(
    ("text", "unit"),
    [
        ("0.000000001", "mm"),
        ("0.000001", "um"),
        ("0.00000001", "in"),
        ("0.01", "uin"),
        ("12.345678901", "mm"),
    ],
)
def test_text_finer_than_a_quantum_is_refused(text: str, unit: AnyUnit) -> None:
    """Nothing is rounded in silence."""
    with pytest.raises(LengthError, match="finer"):
        parse(text, unit)


@pytest.mark.parametrize(
    ("longest", "beyond", "unit"),
    [
        ("10000", "10000.00000001", "mm"),
        ("10000000", "10000000.00001", "um"),
        ("393.7007874", "393.7007875", "in"),
        ("393700787.4", "393700787.45", "uin"),
    ],
)
def test_nothing_beyond_ten_metres_is_read(longest: str, beyond: str, unit: AnyUnit) -> None:
    """10 m is read in every unit, the next text of that unit is not; the sign changes nothing."""
    assert parse(longest, unit) <= LONGEST
    for text in (beyond, f"-{beyond}"):
        with pytest.raises(LengthError, match="10 m"):
            parse(text, unit, signed=True)


@pytest.mark.parametrize(
    ("quanta", "nanometres"),
    [(mm("1"), 10**6), (inch("1"), 25_400_000), (um("1"), 1000), (uin("1"), Fraction("25.4"))],
)
def test_units_are_the_international_ones(quanta: int, nanometres: Fraction) -> None:
    """1 in = 25.4 mm exactly (international inch, 1959); a quantum is 0.01 nm."""
    assert Fraction(quanta, 100) == nanometres


def test_small_units_are_a_thousandth_and_a_millionth() -> None:
    """A um is a thousandth of a mm, a uin a millionth of an in."""
    assert SMALL_UNIT == {"mm": "um", "in": "uin"}
    assert mm("0.001") == um("1")
    assert inch("0.000001") == uin("1")


@pytest.mark.parametrize(
    ("quanta", "unit", "text"),
    [
        (0, "mm", "0"),
        (mm("-0"), "mm", "0"),
        (mm("100"), "mm", "100"),
        (mm("1.0005"), "mm", "1.0005"),
        (inch("0.1001"), "in", "0.1001"),
        (inch("0.100025"), "in", "0.100025"),
        (um("-0.12"), "um", "-0.12"),
        (1, "mm", "0.00000001"),
        (mm("25.4"), "in", "1"),
        (mm("1"), "in", "0.0393700787"),
    ],
)
def test_text_is_written_as_a_person_would(quanta: int, unit: AnyUnit, text: str) -> None:
    """No trailing zeros, no exponent, no sign on zero."""
    assert to_text(quanta, unit) == text
