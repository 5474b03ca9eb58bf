"""What the entry of the page reads, as people write lengths and angles.

Worked by hand: 3/8 in = 0.375 in, 1 in = 25.4 mm, 12.30 degrees = 12 degrees 18 minutes.
"""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wrung import inch, mm, parse
from wrung_service.api.bench.entry import entered

LENGTHS = [
    (".375", "0.375", "in"),
    ("0,375", "0.375", "in"),
    ("5.", "5", "in"),
    ("3/8", "0.375", "in"),
    ("1 3/8", "1.375", "in"),
    ("1-3/8", "1.375", "in"),
    ('1 1/4"', "1.25", "in"),
    ("13/8", "1.625", "in"),
    ("31,4", "31.4", "in"),
    ("31.4 mm", "31.4", "mm"),
    ("1.25 in", "1.25", "in"),
    ("2 Zoll", "2", "in"),
    ("1.86325", "1.86325", "in"),
    ("⅜", "0.375", "in"),
    ("1½ in", "1.5", "in"),
    ("1 ¾", "1.75", "in"),
]
ANGLES = [
    ("12°30'", "12°30'0\""),
    ("12°30′15″", "12°30'15\""),
    ("12.30°", "12°18'0\""),
    ("12°30''", "12°0'30\""),
    ("12º30’", "12°30'0\""),
    ("14d15m", "14°15'0\""),
    ("14 deg 15 min 30 sec", "14°15'30\""),
    ("14D", "14°0'0\""),
    ("12°x", None),
]
WRONG = [
    ("1,250.5", "two_signs"),
    ("1.250,5", "two_signs"),
    ("1/3", "no_end"),
    ("5/0", "nought"),
    ("1 9/8", "top_heavy"),
    ("-2", "negative"),
    ("12°75'", "sixty"),
    ("1e3", "not_read"),
    (".", "unfinished_sign"),
    ("0.123456789012", "too_fine"),
    ("1.37795275590551181", "too_fine"),
    ("999999 in", "too_long"),
]


@pytest.mark.parametrize(("text", "length", "unit"), LENGTHS)
def test_lengths(text: str, length: str, unit: str) -> None:
    found = entered(text, "in")

    assert (found.state, found.text, found.unit) == ("length", length, unit)


@pytest.mark.parametrize(("text", "angle"), ANGLES)
def test_angles(text: str, angle: str | None) -> None:
    found = entered(text, "in")

    assert (found.text if found.state == "angle" else None) == angle


@pytest.mark.parametrize(("text", "fault"), WRONG)
def test_what_is_wrong_is_said(text: str, fault: str) -> None:
    found = entered(text, "in")

    assert (found.state, found.fault) == ("wrong", fault)


@pytest.mark.parametrize("text", ["1 3/", "1 3", "3/", "1 ", "0.", "0"])
def test_what_may_become_a_length_is_not_wrong_yet(text: str) -> None:
    assert entered(text, "in").state in {"unfinished", "length"}
    assert entered("0." if text == "1 " else text, "in").state != "wrong"


def test_a_gap_that_was_forgotten_is_offered() -> None:
    assert entered("13/8", "in").offers == ("1 3/8",)
    assert entered("3/8", "in").offers == ()


@given(st.text(alphabet="0123456789.,/ -°'\"′″mincZol", max_size=12), st.sampled_from(["mm", "in"]))
def test_whatever_is_typed_has_a_meaning_or_a_sentence(text: str, unit: str) -> None:
    found = entered(text, "in" if unit == "in" else "mm")

    assert (found.state == "wrong") == bool(found.fault)
    if found.state == "length":
        assert parse(found.text, found.unit) > 0


@given(st.integers(1, 10**6))
def test_a_decimal_is_read_exactly_in_either_unit(tenths_of_um: int) -> None:
    text = f"{tenths_of_um // 10**4}.{tenths_of_um % 10**4:04}"

    assert parse(entered(text, "mm").text, "mm") == mm(text)
    assert parse(entered(text.replace(".", ","), "in").text, "in") == inch(text)
