"""Tolerance classes, whatever the size: what must hold of each, and between them."""

from hypothesis import assume, given
from hypothesis import strategies as st

from wrung.errors import InputError
from wrung.fits import iso286
from wrung.fits.iso286_tables import tables
from wrung.fits.limits import SizeLimits
from wrung.lengths import mm

LETTERS = [*tables().letters, "j", "js"]
ORDERED = sorted(tables().letters)
GRADES = ["01", *map(str, range(19))]
SIZES = st.integers(1, mm("3150"))


def given_limits(size: int, name: str) -> SizeLimits | None:
    try:
        return iso286.limits(size, name)
    except InputError as error:
        if error.faults[0].pointer != "/tolerance_class":
            raise
        return None


@given(size=SIZES, letter=st.sampled_from(LETTERS), grade=st.sampled_from(GRADES))
def test_the_zone_is_as_wide_as_its_grade_or_is_refused(size: int, letter: str, grade: str) -> None:
    for name in (f"{letter}{grade}", f"{letter.upper()}{grade}"):
        found = given_limits(size, name)
        assert iso286.tolerance_class(name).name == name
        if found is not None:
            number = iso286.tolerance_class(name).grade
            assert found.tolerance == iso286.standard_tolerance(size, number)


@given(size=SIZES, grade=st.integers(4, 7))
def test_each_letter_lies_above_the_one_before_it(size: int, grade: int) -> None:
    """But for J and JS, which lie about the nominal size."""
    shafts = [given_limits(size, f"{each}{grade}") for each in ORDERED]
    holes = [given_limits(size, f"{each.upper()}{grade}") for each in ORDERED]
    lower = [each.lower_deviation for each in shafts if each]
    upper = [-each.upper_deviation for each in holes if each]

    assert lower == sorted(set(lower))
    assert upper == sorted(set(upper))


@given(size=SIZES, letter=st.sampled_from(LETTERS), grade=st.integers(3, 8))
def test_holes_are_mirrored_shafts_lifted_by_no_more_than_delta(
    size: int, letter: str, grade: int
) -> None:
    hole = given_limits(size, f"{letter.upper()}{grade}")
    shaft = given_limits(size, f"{letter}{grade}")
    assume(hole is not None and shaft is not None and letter not in ("j", "k"))
    assert hole is not None
    assert shaft is not None
    lift = hole.upper_deviation + shaft.lower_deviation
    finer = iso286.standard_tolerance(size, grade - 1)
    # M6 from 250 to 315 mm is lifted by 2 µm more.
    assert 0 <= lift <= iso286.standard_tolerance(size, grade) - finer + 2 * mm("0.001")
