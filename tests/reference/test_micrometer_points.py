"""Check points and permissible errors against public calibration records and standards."""

import pytest

from wrung import solve
from wrung.blocks import Block
from wrung.compositions import composition
from wrung.instruments.check_points import (
    InstrumentKind,
    PointSeries,
    all_series,
    permissible_error,
    permissible_span,
    points_for_pitch,
    series,
)
from wrung.lengths import Unit, inch, mm, to_text, um
from wrung.metrology import STANDARD
from wrung.targets import CheckPointsTarget
from wrung.targets.built import BudgetedStack, budgeted

# Five public calibration records of metric micrometers agree on these, each typed there by hand.
FROM_0 = "2.5 5.1 7.7 10.3 12.9 15 17.6 20.2 22.8 25"
FROM_25 = "25 27.5 30.1 32.7 35.3 37.9 40 42.6 45.2 47.8 50"
FROM_75 = "75 77.5 80.1 82.7 85.3 87.9 90 92.6 95.2 97.8 100"

# From memory of US federal procedures.
INCH = "0.105 0.21 0.315 0.42 0.5 0.605 0.71 0.815 0.92 1"

# A page from a table of DIN 863-1 (on the web): limit of error in µm by upper end of the range.
DIN_863 = {25: 4, 50: 4, 75: 5, 100: 5, 125: 6, 150: 6, 175: 7, 200: 7, 225: 8, 250: 8, 275: 9,
           300: 9, 325: 10, 350: 10, 375: 11, 400: 11, 425: 12, 450: 12, 475: 13,
           500: 13}  # fmt: skip


def points(target: CheckPointsTarget) -> str:
    unit: Unit = "in" if target.series == "inch-0.025" else "mm"
    return " ".join(to_text(r.length, unit) for r in target.requirements())


@pytest.mark.parametrize(("start", "printed"), [("0", FROM_0), ("25", FROM_25), ("75", FROM_75)])
def test_metric_points(start: str, printed: str) -> None:
    target = CheckPointsTarget(ref="m", series="metric-0.5", range_from=mm(start))

    assert points(target) == printed


def test_inch_points() -> None:
    assert points(CheckPointsTarget(ref="m", series="inch-0.025")) == INCH


def test_the_ten_block_micrometer_set_has_just_the_metric_points() -> None:
    assert sorted(composition("micrometer-10").nominals) == list(series("metric-0.5").points)


@pytest.mark.parametrize("known", [each for each in all_series() if each.travel < mm("30")])
def test_a_series_sees_the_thread_at_five_phases_twice(known: PointSeries) -> None:
    pitch = mm("0.5") if known.unit == "mm" else inch("0.025")

    phases = [point % pitch * 5 // pitch for point in known.points]

    # The metric series ends on its full range and not on the last phase.
    assert set(phases) == {0, 1, 2, 3, 4}
    assert phases[:4] == phases[5:9]


def test_points_computed_for_the_inch_pitch_are_those_in_use() -> None:
    assert points_for_pitch(inch("0.025"), inch("1")) == series("inch-0.025").points


@pytest.mark.parametrize(("pitch", "travel"), [("1", "25"), ("0.5", "25"), ("0.635", "25.4")])
def test_points_for_other_pitches_see_five_phases_and_end_on_the_range(
    pitch: str, travel: str
) -> None:
    found = points_for_pitch(mm(pitch), mm(travel))

    phases = [point % mm(pitch) * 5 // mm(pitch) for point in found]
    assert phases == [1, 2, 3, 4, 0] * 2
    assert mm(travel) - mm(pitch) < found[-1] <= mm(travel)
    assert list(found) == sorted(set(found))


@pytest.mark.parametrize("end", DIN_863)
def test_permissible_errors_of_micrometers(end: int) -> None:
    printed = DIN_863[end]

    start = mm(str(end - 25))
    found = permissible_error("micrometer", start, range_start=start, range_end=mm(str(end)))
    assert found == um(str(printed))
    # The whole column follows 4 + (lower end / 50) µm, found by looking at it.
    assert printed == 4 + (end - 25) // 50


@pytest.mark.parametrize(
    ("instrument", "point", "start", "end"),
    [
        ("micrometer", "20", "0", "30"),
        # The table's ranges are 25 mm long: of one from 0 to 50 mm it says nothing.
        ("micrometer", "40", "0", "50"),
        ("micrometer", "40", "30", "50"),
        ("micrometer", "520", "500", "525"),
        # Points that the instrument does not reach.
        ("micrometer", "26", "0", "25"),
        ("micrometer", "24", "25", "50"),
        ("other", "20", "0", "25"),
        # A caliper that reaches beyond the table is none of the table's, even at a short length.
        ("vernier_caliper", "1500", "0", "2000"),
        ("vernier_caliper", "100", "0", "2000"),
        ("fine_caliper", "100", "0", "1500"),
    ],
)
def test_what_the_standard_does_not_cover_gets_no_limit(
    instrument: InstrumentKind, point: str, start: str, end: str
) -> None:
    found = permissible_error(instrument, mm(point), range_start=mm(start), range_end=mm(end))

    assert found is None


@pytest.mark.parametrize(
    ("instrument", "length", "limit"),
    [
        ("vernier_caliper", "41.3", "50"),
        ("vernier_caliper", "300", "50"),
        ("vernier_caliper", "301", "60"),
        ("fine_caliper", "41.3", "20"),
        ("fine_caliper", "131.4", "30"),
    ],
)
def test_permissible_errors_of_calipers(
    instrument: InstrumentKind, length: str, limit: str
) -> None:
    """DIN 862, a scanned table on the web whose cells run together."""
    found = permissible_error(instrument, mm(length), range_start=0, range_end=mm("1000"))

    assert found == um(limit)


def test_a_vernier_caliper_as_in_ea_4_02_s10() -> None:
    """EA-4/02 S10, from memory: 150.10 mm read on 150 mm, u 33 µm, error 0.10 mm.

    Steps of 0.05 mm and mechanical effects of ±50 µm; temperature adds 2 µm there and nothing
    here. Its U of 0.06 mm has k = 1.83; k = 2 is on the safe side of that.
    """
    block = Block(id="150", nominal=mm("150"), deviation=0, expanded_uncertainty=um("0.8"))
    target = CheckPointsTarget(
        ref="c",
        instrument="vernier_caliper",
        points=(mm("150"),),
        readings=(mm("150.1"),),
        resolution=um("50"),
        mechanical_effects=um("50"),
    )
    stack = make_stack(target, block)

    (row,) = target.results([stack]).rows

    assert row.error == mm("0.1")
    assert (row.expanded_uncertainty or 0) / um("2") == pytest.approx(33, abs=1)
    assert row.statement == "fail"


def make_stack(target: CheckPointsTarget, block: Block) -> BudgetedStack:
    (stack,) = solve([block], [target]).stacks
    return budgeted(stack, {block.id: block}, STANDARD, 0)


def test_spans_of_dial_indicators() -> None:
    """DIN 878, from memory; other ranges have none."""
    found = [permissible_span("dial_indicator", mm(travel)) for travel in ("3", "5", "10", "8")]

    assert found == [um("10"), um("12"), um("15"), None]


@pytest.mark.parametrize("end", range(1, 11))
def test_inch_ranges_have_the_limits_quoted_from_asme_b89_1_13(end: int) -> None:
    """0.0001 in to 1 in, 0.0002 in from 1 to 9 in, as a technician quotes them on a forum."""
    target = CheckPointsTarget(ref="m", series="inch-0.025", range_from=inch(str(end - 1)))
    limit = None if end > 9 else inch("0.0001") if end == 1 else inch("0.0002")

    assert {row.permissible_error for row in target.results(()).rows} == {limit}
    assert target.standard == (None if end > 9 else "ASME B89.1.13")


def test_a_limit_of_your_own_is_of_no_standard() -> None:
    target = CheckPointsTarget(ref="m", series="metric-0.5", permissible_error=um("3"))

    assert {row.permissible_error for row in target.results(()).rows} == {um("3")}
    assert target.standard is None


def test_points_of_calipers_by_iso_13385_1() -> None:
    """At least five to 150 mm, over 90 % of the range (a gauge maker's catalogue of 2021)."""
    known = series("caliper-iso-13385")

    assert len(known.points) >= 5
    assert known.points[-1] - known.points[0] >= known.travel * 9 // 10
