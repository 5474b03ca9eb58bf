"""Compositions against a second table of their series, typed by itself.

Written as lists print them, start-stop/step:count, and expanded with fractions. Confirmed means
that a text with the same series was read; where only memory speaks, a wrong memory stays wrong
here, but no slip of the pen does.
"""

from collections import Counter
from fractions import Fraction

import pytest

from wrung.compositions import Composition, all_compositions, composition
from wrung.lengths import QUANTA, mm

# Confirmed: two manufacturing texts on the web (qeeebo.com; H. Jack's course notes).
INCH_81 = ".1001-.1009/.0001:9  .101-.149/.001:49  .050-.950/.050:19  1-4/1:4"
# Confirmed: Carvill, Mechanical Engineer's Data Handbook, p. 269 (BS 888 sets M 78 and M 50).
METRIC_78 = "1.01-1.49/.01:49 0.50-9.50/0.5:19 10 20 30 40 50 75 100 1.0025 1.005 1.0075"
METRIC_50 = "1.01-1.09/.01:9 1.10-1.90/.1:9 1-25/1:25 50 75 100 1.0025 1.0050 1.0075 0.5"
# Confirmed: exercise on the web (askfilo.com, prints 70 for 75); NPL's example uses its members.
METRIC_112_1 = "1.0005 1.001-1.009/.001:9 1.01-1.49/.01:49 0.5-24.5/0.5:49 25-100/25:4"
# Confirmed: several public calibration records of micrometers.
MICROMETER_10 = "2.5 5.1 7.7 10.3 12.9 15.0 17.6 20.2 22.8 25.0"

COMPOSITIONS = {
    # id: (series, number of blocks, sum)
    "inch-81": (INCH_81, 81, "26.5295"),
    "metric-78": (METRIC_78, 78, "484.265"),
    "metric-50": (METRIC_50, 50, "576.465"),
    "metric-112-1": (METRIC_112_1, 112, "933.7955"),
    "micrometer-10": (MICROMETER_10, 10, "139.1"),
    # Confirmed: course notes on the web (flashcardmachine.com), .050 also by H. Jack's.
    "wear-inch-050": (".050 .050", 2, ".1"),
    "wear-inch-100": (".100 .100", 2, ".2"),
    # Confirmed: a training text on the web (tresnainstrument.com), 2.50 mm.
    "wear-metric-2-5": ("2.50 2.50", 2, "5"),
    # All below from memory, not checked against print.
    "wear-metric-1": ("1 1", 2, "2"),
    "wear-metric-2": ("2 2", 2, "4"),
    "inch-88": (
        f"{INCH_81} .100025 .100050 .100075 .0625 .078125 .09375 .109375",
        *(88, "27.1734"),
    ),
    "inch-36": (
        ".1001-.1009/.0001:9 .101-.109/.001:9 .110-.190/.010:9 .100-.500/.100:5 1 2 4 .050",
        *(36, "11.7495"),
    ),
    "inch-35": (
        ".1001-.1009/.0001:9 .101-.109/.001:9 .110-.190/.010:9 .100 .200 .300 .500 1 2 4 .050",
        *(35, "11.3495"),
    ),
    "inch-34": (
        ".1001-.1009/.0001:9 .101-.109/.001:9 .110-.190/.010:9 .100 .200 .300 .500 1 2 4",
        *(34, "11.2995"),
    ),
    "inch-28": (
        ".02005 .0201-.0209/.0001:9 .021-.029/.001:9 .010-.090/.010:9",
        *(28, ".87955"),
    ),
    "inch-long-8": ("5 6 7 8 10 12 16 20", 8, "84"),
    "metric-122": (
        "1.0005 1.001-1.009/.001:9 1.01-1.49/.01:49 1.6-1.9/.1:4 0.5-24.5/0.5:49 25 75 30-100/10:8",
        *(122, "1310.7955"),
    ),
    "metric-112-2": (
        "2.0005 2.001-2.009/.001:9 2.01-2.49/.01:49 0.5-24.5/0.5:49 25-100/25:4",
        *(112, "992.7955"),
    ),
    "metric-103": ("1.005 1.01-1.49/.01:49 0.5-24.5/.5:49 25-100/25:4", 103, "924.755"),
    "metric-88-1": (
        "1.0005 1.001-1.009/.001:9 1.01-1.49/.01:49 0.5-9.5/.5:19 10-100/10:10",
        *(88, "716.2955"),
    ),
    "metric-88-2": (
        "2.0005 2.001-2.009/.001:9 2.01-2.49/.01:49 0.5-9.5/.5:19 10-100/10:10",
        *(88, "775.2955"),
    ),
    "metric-87-a": (
        "1.001-1.009/.001:9 1.01-1.49/.01:49 0.5-9.5/.5:19 10-100/10:10",
        *(87, "715.295"),
    ),
    "metric-87-b": (
        "1.0005 1.001-1.009/.001:9 1.01-1.49/.01:49 0.5-9.5/.5:19 10-90/10:9",
        *(87, "616.2955"),
    ),
    "metric-86": (
        "1.001-1.009/.001:9 1.01-1.49/.01:49 0.5-9.5/.5:19 10-90/10:9",
        *(86, "615.295"),
    ),
    "metric-83": (
        "1.005 1.01-1.49/.01:49 1.6-1.9/.1:4 0.5-9.5/.5:19 10-100/10:10",
        *(83, "714.255"),
    ),
    "metric-76": (
        "1.005 1.01-1.49/.01:49 0.5-9.5/.5:19 10 20 30 40 50 75 100",
        *(76, "482.255"),
    ),
    "metric-56": (
        "0.5 1.001-1.009/.001:9 1.01-1.09/.01:9 1.1-1.9/.1:9 1-24/1:24 25-100/25:4",
        *(56, "582.495"),
    ),
    "metric-47-a": (
        "1.005 1.01-1.09/.01:9 1.1-1.9/.1:9 1-24/1:24 25 50 75 100",
        *(47, "573.955"),
    ),
    "metric-47-b": (
        "1.005 1.01-1.19/.01:19 1.2-1.9/.1:8 1-9/1:9 10-100/10:10",
        *(47, "629.305"),
    ),
    "metric-46-1": (
        "1.001-1.009/.001:9 1.01-1.09/.01:9 1.1-1.9/.1:9 1-9/1:9 10-100/10:10",
        *(46, "626.995"),
    ),
    "metric-46-2": (
        "2.001-2.009/.001:9 2.01-2.09/.01:9 2.1-2.9/.1:9 1-9/1:9 10-100/10:10",
        *(46, "653.995"),
    ),
    "metric-45": (
        "1.001-1.009/.001:9 1.01-1.09/.01:9 1.1-1.9/.1:9 1-9/1:9 10-90/10:9",
        *(45, "526.995"),
    ),
    "metric-32": ("1.005 1.01-1.09/.01:9 1.1-1.9/.1:9 1-9/1:9 10 20 30 60", 32, "188.955"),
    "metric-18": ("0.991-0.999/.001:9 1.001-1.009/.001:9", 18, "18"),
    # Confirmed: a calibration house's answer (6.25, 12.5, 25, 50 and 100 % of the range).
    "micrometer-inch-5": (".0625 .125 .25 .5 1", 5, "1.9375"),
    # Two members (.0502, .056) confirmed by a maker's page (Webber), the rest from memory.
    "inch-36-050": (
        ".0501-.0509/.0001:9 .051-.059/.001:9 .11-.19/.01:9 .1 .2 .3 .4 .5 1 2 4 .050",
        *(36, "10.8495"),
    ),
    "micrometer-inch-10": (".105 .210 .315 .420 .500 .605 .710 .815 .920 1.000", 10, "5.6"),
    "micrometer-inch-9": (".0625 .1 .125 .2 .25 .3 .5 1 2", 9, "4.5375"),
    "caliper-3": ("30 41.3 131.4", 3, "202.7"),
    # The same series in square blocks; that such sets are sold is from memory.
    "inch-81-square": (INCH_81, 81, "26.5295"),
    "inch-36-square": (
        ".1001-.1009/.0001:9 .101-.109/.001:9 .110-.190/.010:9 .100-.500/.100:5 1 2 4 .050",
        *(36, "11.7495"),
    ),
    "inch-long-8-square": ("5 6 7 8 10 12 16 20", 8, "84"),
    "metric-103-square": (
        "1.005 1.01-1.49/.01:49 0.5-24.5/.5:49 25 50 75 100",
        *(103, "924.755"),
    ),
    "metric-long-8": ("125 150 175 200 250 300 400 500", 8, "2100"),
}


def expand(series: str) -> Counter[Fraction]:
    """The lengths of ``start-stop/step:count`` and single lengths, in the unit of the text."""
    lengths: Counter[Fraction] = Counter()
    for part in series.split():
        spread, _, count = part.partition(":")
        ends, _, step = spread.partition("/")
        first, _, last = ends.partition("-")
        some = [Fraction(first) + n * Fraction(step or 0) for n in range(int(count or 1))]
        assert some[-1] == Fraction(last or first)
        lengths.update(some)
    return lengths


def lengths_of(found: Composition) -> Counter[Fraction]:
    return Counter(Fraction(nominal, QUANTA[found.unit]) for nominal in found.nominals)


@pytest.mark.parametrize("name", COMPOSITIONS)
def test_composition_has_the_lengths_typed_a_second_time(name: str) -> None:
    """Lengths, number of blocks and sum are those of the list."""
    series, count, total = COMPOSITIONS[name]

    found = composition(name)

    assert lengths_of(found) == expand(series)
    assert found.count == len(found.nominals) == count
    assert Fraction(found.total, QUANTA[found.unit]) == sum(expand(series).elements())
    assert Fraction(found.total, QUANTA[found.unit]) == Fraction(total)


def test_every_composition_is_typed_a_second_time() -> None:
    """No composition enters the library without a line here."""
    assert {found.id for found in all_compositions()} == set(COMPOSITIONS)


def test_the_112_block_set_has_the_blocks_of_the_worked_example() -> None:
    """58.345 mm = 1.005 + 1.04 + 1.30 + 5 + 50 from an M 112 set.

    Source: National Physical Laboratory, FAQ on selecting gauge blocks (2010).
    """
    example = [mm("1.005"), mm("1.04"), mm("1.30"), mm("5"), mm("50")]

    assert sum(example) == mm("58.345")
    assert set(example) <= set(composition("metric-112").nominals)


def test_the_81_block_set_has_the_blocks_of_a_makers_worked_example() -> None:
    """3.9762 in = .1002 + .126 + .750 + 3.000 from an 81 block set.

    Source: starrett-webber.com, use and care of gage blocks (text read on the web).
    """
    example = [Fraction(text) for text in (".1002", ".126", ".750", "3.000")]

    assert sum(example) == Fraction("3.9762")
    assert set(example) <= set(lengths_of(composition("inch-81")))


@pytest.mark.parametrize(
    ("name", "pitch", "phases"),
    [
        ("micrometer-10", "0.5", {0, 72, 144, 216, 288}),
        # 40 threads an inch.
        ("micrometer-inch-10", "0.025", {0, 72, 144, 216, 288}),
        ("micrometer-inch-9", "0.025", {0, 180}),
        ("micrometer-inch-5", "0.025", {0, 180}),
    ],
)
def test_micrometer_blocks_meet_the_screw_in_these_phases(
    name: str, pitch: str, phases: set[int]
) -> None:
    """In degrees of a turn of the screw.

    Why the lengths are odd: common practice, no source; the angles are worked out.
    """
    turn = Fraction(pitch)

    assert {length % turn / turn * 360 for length in lengths_of(composition(name))} == phases


def test_the_050_series_has_the_blocks_of_a_makers_worked_example() -> None:
    """3.9762 in: .0502, then .056, then one block for each place that is left.

    Source: starrett-webber.com, use and care of gage blocks (text read on the web, which does not
    print the last blocks).
    """
    example = [Fraction(text) for text in (".0502", ".056", ".170", ".500", ".200", "1", "2")]

    assert sum(example) == Fraction("3.9762")
    assert set(example) <= set(lengths_of(composition("inch-36-050")))
