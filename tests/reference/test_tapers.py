"""Tapers by name against what catalogues and handbooks print of them, and the ways to give one."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wrung.angles import DEGREE, SECOND, angle
from wrung.lengths import QUANTA, inch, mm
from wrung.tapers import all_tapers, named_taper
from wrung.targets.taper import FoundTaper, Taper, found_taper


def found(name: str) -> FoundTaper:
    """A taper by its name."""
    taper = Taper(designation=name)
    return found_taper(taper.included_angle(), taper)


@pytest.mark.parametrize(
    ("number", "half", "ratio", "gauge"),
    [
        ("0", 1.4908, 19.212, 9.045),
        ("1", 1.4287, 20.047, 12.065),
        ("2", 1.4307, 20.020, 17.780),
        ("3", 1.4377, 19.922, 23.825),
        ("4", 1.4876, 19.254, 31.267),
        ("4 1/2", 1.4894, 19.231, 38.100),
        ("5", 1.5073, 19.002, 44.399),
        ("6", 1.4933, 19.180, 63.348),
        ("7", 1.4894, 19.231, 83.058),
    ],
)
def test_morse_tapers(number: str, half: float, ratio: float, gauge: float) -> None:
    """Half angles as a table on the web prints them; 1:x as ISO 296 has it, from memory."""
    taper = found(f"Morse {number}")

    assert taper.half_angle / DEGREE == pytest.approx(half, abs=6e-5)
    assert float(taper.ratio) == pytest.approx(ratio, abs=6e-4)
    assert (taper.gauge_diameter or 0) / QUANTA["mm"] == pytest.approx(gauge, abs=6e-4)


def test_the_steep_taper_of_spindles() -> None:
    """A maker's catalogue of 2011, p. 778: half of it is 8 degrees 17 minutes 50 seconds."""
    taper = found("7:24 40")

    assert taper.half_angle == pytest.approx(angle("8°17'50\""), abs=SECOND)
    assert (taper.rate, taper.per_foot) == (Decimal("0.291667"), Decimal("3.500000"))
    assert taper.gauge_diameter == mm("44.45")


@pytest.mark.parametrize(
    ("number", "inches"),
    [
        # ISO 297 from memory, in inches, in which these tapers were laid down.
        *(("45", "2.25"), ("55", "3.5"), ("60", "4.25"), ("65", "5.25"), ("70", "6.5")),
        *(("75", "8"), ("80", "10")),
        # The catalogue of 2011.
        *(("30", "1.25"), ("40", "1.75"), ("50", "2.75")),
    ],
)
def test_gauge_lines_of_steep_tapers(number: str, inches: str) -> None:
    assert found(f"7:24 {number}").gauge_diameter == inch(inches)


# Small end in inches, length, and large end as lists on the web print it (four decimals).
BROWN_AND_SHARPE = """1 .2000 .9375 .2392 / 2 .2500 1.1875 .2997 / 3 .3125 1.5 .3753
8 .7500 3.5625 .8987 / 12 1.5001 7.125 1.7968 / 13 1.7501 7.75 2.0731 / 14 2 8.25 2.3438
15 2.25 8.75 2.6146"""


@pytest.mark.parametrize("case", BROWN_AND_SHARPE.replace("\n", " / ").split(" / "))
def test_large_ends_of_brown_and_sharpe_tapers(case: str) -> None:
    number, small, length, large = case.split()
    taper = named_taper(f"B&S {number}")
    assert taper is not None
    assert taper.gauge_diameter is not None

    worked_out = float(small) + float(taper.rate) * float(length)
    assert taper.gauge_diameter / QUANTA["in"] == pytest.approx(worked_out, abs=6e-5)
    assert taper.gauge_diameter / QUANTA["in"] == pytest.approx(float(large), abs=6e-5)


def test_hollow_tapers_are_about_three_quarters_of_their_size() -> None:
    """HSK by ISO 12164-1, from memory: a rule of thumb, as no printed figure was to be had."""
    sizes = ("32", "40", "50", "63", "80", "100", "125", "160")
    for size in sizes:
        taper = found(f"HSK {size}")
        assert taper.ratio == Decimal("9.980000")
        assert (taper.gauge_diameter or 0) / mm(size) == pytest.approx(0.755, abs=0.008)
        assert taper.checked == "no"


def test_rules_of_jarno_and_of_metric_tapers() -> None:
    """Large end in eighths of an inch, .6 in a foot; and 5 %, by the diameter (ISO 296, scope)."""
    jarno, metric = found("jarno 10"), found("metric 80")

    assert (jarno.per_foot, jarno.gauge_diameter) == (
        Decimal("0.600000"),
        125 * QUANTA["in"] // 100,
    )
    assert (metric.rate, metric.gauge_diameter) == (Decimal("0.050000"), mm("80"))


def test_a_morse_taper_is_as_wide_at_its_small_end_as_printed() -> None:
    """No. 3: .9380 at the gauge line, .7780 at the end, 3.19 in from it (a dealer's page)."""
    morse = named_taper("Morse 3")
    assert morse is not None

    narrower = (morse.gauge_diameter or 0) / QUANTA["in"] - float(morse.rate) * 3.19
    assert narrower == pytest.approx(0.7780, abs=5e-4)


@given(st.decimals("1", "200", places=4))
def test_the_ways_to_give_a_taper_agree(ratio: Decimal) -> None:
    rate = 1 / ratio
    given = [
        Taper(ratio=ratio),
        Taper(rate=rate),
        Taper(per_foot=12 * rate),
    ]
    angles = [each.included_angle() for each in given]

    assert max(angles) - min(angles) <= 2
    assert abs(float(found_taper(angles[0], None).rate) - float(rate)) < 1e-6


def test_no_name_stands_twice_and_each_rate_is_that_of_a_taper() -> None:
    names = [each.designation.casefold() for each in all_tapers()]

    assert len(names) == len(set(names))
    assert all(Decimal("0.03") < each.rate < Decimal("0.3") for each in all_tapers())


@pytest.mark.parametrize(
    ("said", "meant"),
    [
        ("MT3", "Morse 3"),
        ("MK 4 1/2", "Morse 4 1/2"),
        (" morse  no. 3", "Morse 3"),
        ("Morsekegel Nr. 3", "Morse 3"),
        ("Morse No 3", "Morse 3"),
        ("MK 4½", "Morse 4 1/2"),
        ("MT 4.5", "Morse 4 1/2"),
        ("ME 80", "metric 80"),
        ("BT40", "7:24 40"),
        ("SK-50", "7:24 50"),
        ("HSK-A63", "HSK 63"),
        ("HSK63A", "HSK 63"),
        ("BS 7", "Brown & Sharpe 7"),
        ("jarno #10", "Jarno 10"),
    ],
)
def test_the_short_forms_of_the_trade_are_known(said: str, meant: str) -> None:
    """Common practice, no source; 7:24 and HSK shanks of other makes share the cone."""
    taper = named_taper(said)

    assert taper is not None
    assert taper.designation == meant


@pytest.mark.parametrize("said", ["Morse", "MT", "MT 9", "HSK F63", "3", "", "no."])
def test_what_is_no_name_stays_unknown(said: str) -> None:
    assert named_taper(said) is None
