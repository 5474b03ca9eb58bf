"""Plain limit gauges by ISO/R 1938 against print."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wrung.errors import InputError
from wrung.fits.limit_gauges import gauge_figures
from wrung.lengths import mm, um
from wrung.targets import FitTarget
from wrung.targets.limit_results import LimitGauge

# GOST 21401-75, sizes of snap gauges for m6 as a site prints them (ajdocs): by the upper end of the
# range, over the nominal size, in µm: smallest GO and NOT GO gauge, width of the zone, GO worn out.
# GOST 24853-81, which they are worked out from, carries the figures of ISO/R 1938.
M6 = """3: 5.5 1 2 9.5 / 6: 8.5 3 2.5 13.5 / 10: 11.5 5 2.5 16.5 / 18: 14 5.5 3 20 / 30: 16 6 4 24
50: 19.5 7 4 28 / 80: 23.5 8.5 5 33 / 120: 27 10 6 39 / 180: 30 11 8 44 / 250: 34 14 10 49
315: 38 17 12 55 / 400: 40.5 18.5 13 59 / 500: 44.5 20.5 15 65"""


def gauges(nominal: str, tolerance_class: str) -> tuple[LimitGauge, LimitGauge]:
    """GO and NOT GO."""
    target = FitTarget(
        ref="g",
        nominal=mm(nominal),
        tolerance_class=tolerance_class,
        gauge_standard="iso_r_1938",
    )
    found = {each.role: each for each in target.results(()).limits.gauges}
    return found["go"], found["not_go"]


@pytest.mark.parametrize("case", M6.replace("\n", " / ").split(" / "))
def test_snap_gauges_for_m6_as_a_standard_prints_their_sizes(case: str) -> None:
    nominal, values = case.split(": ")
    go_size, not_go_size, width, worn = (mm(nominal) + um(each) for each in values.split())
    go, not_go = gauges(nominal, "m6")

    # The standard rounds sizes to half a micrometre.
    assert abs((go.smallest_gauge or 0) - go_size) <= um("0.25")
    assert abs((not_go.smallest_gauge or 0) - not_go_size) <= um("0.25")
    assert go.wear_limit == worn
    for gauge in (go, not_go):
        assert (gauge.largest_gauge or 0) - (gauge.smallest_gauge or 0) == width - mm(nominal)


# Korotkov, textbook of metrology (2012), table 3.4, after GOST 24853-81: z, y, alpha, H in µm of
# plugs, and of gauges for shafts. The last two: a maker's page (30 H9: z 9 µm, zone of 4 µm), and
# a question on ISO 1938-1:2015 at a forum (z and the grade of H only).
PRINTED = """3 6 hole 1 1 0 1.2 / 25 6 hole 2 1.5 0 2.5 / 180 6 hole 4 3 0 5 / 200 6 hole 5 4 2 7
500 6 hole 8 7 5 10 / 25 6 shaft 3 3 0 4 / 400 6 shaft 10 6 4 13 / 3 7 hole 1.5 1.5 0 2
25 7 hole 3 3 0 4 / 180 7 shaft 6 4 0 8 / 250 7 shaft 7 6 3 10 / 315 7 hole 8 7 4 12
400 7 hole 10 8 6 13 / 500 7 hole 11 9 7 15 / 30 9 hole 9 0 0 4 / 20 13 hole 36 0 0 21"""


@pytest.mark.parametrize("case", PRINTED.replace("\n", " / ").split(" / "))
def test_figures_as_printed(case: str) -> None:
    nominal, grade, part, *values = case.split()
    found = gauge_figures(mm(nominal), int(grade), internal=part == "hole")

    assert [found.position, found.wear_past, found.safety, found.tolerance] == list(map(um, values))
    assert found.checked == ("partly" if int(grade) < 8 else "no")


@given(
    nominal=st.integers(1, mm("500")), grade=st.integers(6, 16), letter=st.sampled_from(["H", "h"])
)
def test_gauges_of_every_size_and_grade(nominal: int, grade: int, letter: str) -> None:
    """What holds of any gauge: room to wear, no overlap, nothing past the limit but by y."""
    figures = gauge_figures(nominal, grade, internal=letter == "H")
    larger = gauge_figures(min(2 * nominal, mm("500")), grade, internal=letter == "H")

    assert figures.position - figures.tolerance // 2 > figures.safety - figures.wear_past
    assert figures.position <= larger.position
    assert (figures.safety > 0) == (nominal > mm("180"))
    assert (figures.wear_past > 0) == (grade < 9)


@pytest.mark.parametrize("size", ["181", "251", "316", "401"])
@pytest.mark.parametrize("grade", [9, 11, 13, 15])
def test_large_gauges_of_two_grades_differ_by_their_safety_alone(size: str, grade: int) -> None:
    """A pattern in the standard's figures, from memory: it guards those of no other source."""
    fine, coarse = (gauge_figures(mm(size), each, internal=True) for each in (grade, grade + 1))

    assert coarse.position - coarse.safety == fine.position - fine.safety


@pytest.mark.parametrize(
    ("nominal", "tolerance_class", "reason"),
    [("25", "H5", "grades 6 to 16"), ("25", "H17", "grades 6 to 16"), ("501", "H7", "to 500 mm")],
)
def test_what_the_standard_does_not_give_is_refused(
    nominal: str, tolerance_class: str, reason: str
) -> None:
    with pytest.raises(InputError, match=reason) as caught:
        gauges(nominal, tolerance_class)

    assert [fault.pointer for fault in caught.value.faults] == ["/gauge_standard"]


def test_a_standard_and_figures_of_ones_own_exclude_each_other() -> None:
    target = FitTarget(
        ref="g",
        nominal=mm("25"),
        tolerance_class="H7",
        gauge_standard="iso_r_1938",
        wear_allowance=um("3"),
    )
    with pytest.raises(InputError, match="leave it out") as caught:
        target.requirements()

    assert [fault.pointer for fault in caught.value.faults] == ["/wear_allowance"]


def test_a_worn_gauge_that_passes_parts_outside_their_limit_is_remarked_on() -> None:
    target = FitTarget(ref="g", nominal=mm("25"), tolerance_class="H7", gauge_standard="iso_r_1938")
    keys = [each.key for each in target.results(()).remarks]

    assert keys == ["gauges.checked_partly", "gauges.worn_past"]


@pytest.mark.parametrize(("guard_band", "past"), [("0", ["3"]), ("1", ["2"]), ("3", []), ("5", [])])
def test_a_guard_band_leaves_worn_gauges_less_far_outside(guard_band: str, past: list[str]) -> None:
    # 25 H7: a worn GO gauge may be y = 3 µm past the limit, less what the guard band moves it.
    target = FitTarget(
        ref="g",
        nominal=mm("25"),
        tolerance_class="H7",
        gauge_standard="iso_r_1938",
        guard_band=um(guard_band),
    )
    remarks = [each for each in target.results(()).remarks if each.key == "gauges.worn_past"]
    figures = [{each.name: each.value for each in remark.figures} for remark in remarks]

    assert figures == [{"worn": mm("25") - um(each), "past": um(each)} for each in past]
