"""Inch fits against the clearances and interferences that the printed tables state beside them.

Least and greatest of each fit, in thousandths of an inch, by ranges of sizes from the smallest on.
RC1 to RC4, LT1 and LT2: Machinery's Handbook, 31st edition, tables 8a and 10. FN: the same, 27th
edition, p. 663. LC6 to LC11: an engineering office's table on the web, where it prints what can be
(one greatest clearance of LC8 and one least are misprints, and not here); larger sizes from memory.
"""

from decimal import Decimal
from typing import Final

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wrung.errors import InputError
from wrung.fits.ansi_b41 import InchFit, inch_fit
from wrung.fits.limits import clearances
from wrung.lengths import inch, mm, to_text

SIZES: Final = "0.12 0.24 0.4 0.71 1.19 1.97 3.15 4.73 7.09 9.85 12.41 15.75 19.69".split()  # noqa: SIM905 - as printed
FINE: Final = "0.12 0.24 0.4 0.56 0.71 0.95 1.19 1.58 1.97 2.56 3.15 3.94".split()  # noqa: SIM905 - as printed

CLEARANCES: Final = {
    "RC1": "0.1 0.45 0.15 0.5 0.2 0.6 0.25 0.75 0.3 0.95 0.4 1.1 0.4 1.2 0.5 1.5 0.6 1.8 0.6 2 "
    "0.8 2.3 1 2.7 1.2 3",
    "RC2": "0.1 0.55 0.15 0.65 0.2 0.85 0.25 0.95 0.3 1.2 0.4 1.4 0.4 1.6 0.5 2 0.6 2.3 0.6 2.6 "
    "0.8 2.9 1 3.4 1.2 3.8",
    "RC3": "0.3 0.95 0.4 1.2 0.5 1.5 0.6 1.7 0.8 2.1 1 2.6 1.2 3.1 1.4 3.7 1.6 4.2 2 5 2.5 5.7 "
    "3 6.6 4 8.1",
    "RC4": "0.3 1.3 0.4 1.6 0.5 2 0.6 2.3 0.8 2.8 1 3.6 1.2 4.2 1.4 5 1.6 5.7 2 6.6 2.5 7.5 "
    "3 8.7 4 10.5",
    "LC6": "0.3 1.9 0.4 2.3 0.5 2.8 0.6 3.2 0.8 4 1 5.1 1.2 6 1.4 7.1 1.6 8.1 2 9.3 2.2 10.2 "
    "2.5 12 2.8 12.8",
    "LC7": "0.6 3.2 0.8 3.8 1 4.6 1.2 5.6 1.6 7.1 2 8.5 2.5 10 3 11.5 3.5 13.5 4 15.5 4.5 "
    "17.5 5 20 5 21",
    "LC9": "2.5 6.6 2.8 7.6 3 8.7 3.5 10.3 4.5 13 5 15 6 17.5 7 21 8 24 10 29 12 32 14 37 16 42",
    "LC10": "4 12 4.5 14.5 5 17 6 20 7 23 8 28 10 34 11 39 12 44 16 52 20 60 22 66 25 75",
    "LC11": "5 17 6 20 7 25 8 28 10 34 12 44 14 50 16 60 18 68 22 78 28 88 30 100 35 115",
    "LT1": "-0.12 0.52 -0.15 0.65 -0.2 0.8 -0.2 0.9 -0.25 1.05 -0.3 1.3 -0.3 1.5",
    "LT2": "-0.2 0.8 -0.25 0.95 -0.3 1.2 -0.35 1.35 -0.4 1.6 -0.5 2.1 -0.6 2.4 -0.7 2.9 -0.8 3.3 "
    "-0.9 3.7 -1 4 -1 4.5 -1.2 5.2",
}
INTERFERENCES: Final = {
    "FN1": "0.05 0.5 0.1 0.6 0.1 0.75 0.1 0.8 0.2 0.9 0.2 1.1 0.3 1.2 0.3 1.3 0.4 1.4 0.6 1.8 "
    "0.7 1.9 0.9 2.4",
    "FN2": "0.2 0.85 0.2 1 0.4 1.4 0.5 1.6 0.5 1.6 0.6 1.9 0.6 1.9 0.8 2.4 0.8 2.4 0.8 2.7 1 2.9 "
    "1.4 3.7",
    "FN4": "0.3 0.95 0.4 1.2 0.6 1.6 0.7 1.8 0.7 1.8 0.8 2.1 1 2.3 1.5 3.1 1.8 3.4 2.3 4.2 "
    "2.8 4.7 3.6 5.9",
    "FN5": "0.3 1.3 0.5 1.7 0.5 2 0.6 2.3 0.8 2.5 1 3 1.3 3.3 1.4 4 2.4 5 3.2 6.2 4.2 7.2 4.8 8.4",
}
NAMES: Final = [
    f"{family}{number}"
    for family, last in (("RC", 9), ("LC", 11), ("LT", 6), ("LN", 3), ("FN", 5))
    for number in range(1, last + 1)
]


def stated(size: str, name: str) -> tuple[Decimal, Decimal]:
    """Least and greatest clearance in thousandths."""
    fit = inch_fit(inch(size), name)
    least, greatest = (Decimal(to_text(each, "in")) for each in clearances(fit.hole, fit.shaft))
    return least * 1000, greatest * 1000


@pytest.mark.parametrize("name", CLEARANCES)
def test_clearances_are_those_printed(name: str) -> None:
    printed = [Decimal(each) for each in CLEARANCES[name].split()]
    for size, least, greatest in zip(SIZES, printed[::2], printed[1::2], strict=False):
        assert stated(size, name) == (least, greatest), size


@pytest.mark.parametrize("name", INTERFERENCES)
def test_interferences_are_those_printed(name: str) -> None:
    printed = [Decimal(each) for each in INTERFERENCES[name].split()]
    for size, least, greatest in zip(FINE, printed[::2], printed[1::2], strict=True):
        assert stated(size, name) == (-greatest, -least), size


def test_fn3_begins_over_0_95_in() -> None:
    """Machinery's Handbook, 27th edition, p. 663, prints none below."""
    assert [stated(size, "FN3") for size in ("1", "1.5", "3.9")] == [
        (Decimal("-2.1"), Decimal("-0.8")),
        (Decimal("-2.6"), Decimal(-1)),
        (Decimal("-4.4"), Decimal("-2.1")),
    ]
    with pytest.raises(InputError, match=r"gives FN3 for sizes over 0\.95 in"):
        inch_fit(inch("0.95"), "FN3")


def test_figures_are_marked_by_how_far_they_were_checked() -> None:
    marks = [
        ("RC4", "1"),
        ("LT1", "4"),
        ("LC6", "1"),
        ("LC6", "2"),
        ("LC2", "1"),
        ("FN2", "4.5"),
        ("FN2", "5"),
    ]

    found = [inch_fit(inch(size), name).checked for name, size in marks]

    assert found == ["yes", "partly", "partly", "no", "no", "no", "yes"]


@pytest.mark.parametrize(
    ("size", "name", "pointer"),
    [
        ("1", "RC10", "/fit_class"),
        ("1", "H7", "/fit_class"),
        ("0.24", "LT3", "/fit_class"),
        ("19.7", "RC4", "/nominal"),
        ("0", "RC4", "/nominal"),
    ],
)
def test_what_there_is_not_is_refused(size: str, name: str, pointer: str) -> None:
    with pytest.raises(InputError) as caught:
        inch_fit(inch(size), name)

    assert [fault.pointer for fault in caught.value.faults] == [pointer]


def fit_of(size: int, name: str) -> InchFit | None:
    try:
        return inch_fit(size, name)
    except InputError:
        return None


@given(size=st.integers(1, inch("19.69")), name=st.sampled_from(NAMES))
def test_what_a_family_promises_holds_of_every_size(size: int, name: str) -> None:
    """Running and clearance fits never bind, LN and FN are never loose, LT may be either."""
    fit = fit_of(size, name)
    if fit is None:
        return
    least, greatest = clearances(fit.hole, fit.shaft)
    assert fit.shaft.tolerance > 0
    assert fit.hole.lower == size
    assert {"RC": least >= 0, "LC": least >= 0, "LT": least < 0 < greatest}.get(
        name[:2], greatest <= 0
    )
    # Wider ranges have wider fits: none is wider than that of a size a step above.
    wider = fit_of(min(size + mm("12"), inch("19.69")), name)
    assert wider is None or fit.hole.tolerance <= wider.hole.tolerance
