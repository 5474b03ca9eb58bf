"""Values that were probably given in another unit are remarked on, and not refused."""

import pytest

from wrung import Block, inch, mm, um
from wrung.metrology import Conditions, Part, exactly
from wrung.metrology.block_remarks import certified_remarks
from wrung.metrology.doubtful import temperature_doubts
from wrung.targets.tolerance_ratios import Judged, ratio_remarks
from wrung.texts import Phrase, word


def keys(said: tuple[Phrase, ...]) -> list[str]:
    return [each.key for each in said if each.key.startswith("doubtful.")]


@pytest.mark.parametrize(
    ("celsius", "doubtful"), [(20.0, False), (15.0, False), (35.0, False), (70.0, True)]
)
def test_a_temperature_of_a_shop_is_in_its_unit(celsius: float, doubtful: bool) -> None:  # noqa: FBT001
    found = temperature_doubts([Conditions(temperature=exactly(celsius))] * 2)

    assert len(found) == doubtful
    assert not doubtful or word(found[0]).startswith("70 °C is an unusual temperature")


def test_20_degrees_that_were_meant_in_celsius_are_seen_in_fahrenheit() -> None:
    (found,) = temperature_doubts([Conditions(temperature=exactly((20 - 32) / 1.8))])

    assert word(found, degrees="degF").startswith("20 °F is")


def test_the_part_counts_too() -> None:
    warm = Conditions(part=Part(temperature_difference=exactly(50.0)))

    assert keys(temperature_doubts([warm])) == ["doubtful.temperature"]


@pytest.mark.parametrize(("off", "doubtful"), [(um("8"), False), (inch("0.2"), True)])
def test_no_block_is_off_by_a_fifth_of_an_inch(off: int, doubtful: bool) -> None:  # noqa: FBT001
    """Grade 2 of ISO 3650 (from memory) allows about 7 µm at 1 m."""
    certified = Block(id="a", nominal=inch("1"), deviation=off, expanded_uncertainty=um("0.1"))
    known = Block(id="b", nominal=inch("1"), limit_deviation=off)

    assert keys(certified_remarks([certified, known])) == ["doubtful.block"] * 2 * doubtful


@pytest.mark.parametrize(("width", "doubtful"), [(mm("16"), False), (inch("3"), True)])
def test_no_tolerance_is_3_inches_wide(width: int, doubtful: bool) -> None:  # noqa: FBT001
    """The widest of ISO 2768-1 (from memory), class v from 2 m to 4 m, is ±8 mm."""
    assert keys(ratio_remarks(Judged(width=width, worst_case=um("1")))) == (
        ["doubtful.tolerance"] * doubtful
    )
