"""GO and NOT GO moved inward: guard bands, wear allowances, gauge tolerances, rounding."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from solver.targets.conftest import MakeStack
from solver.targets.faulty import pointers
from wrung.errors import InputError
from wrung.handwork.uses import uses
from wrung.lengths import inch, mm, uin, um
from wrung.targets import FitTarget, LimitsTarget
from wrung.targets.limit_pair import Feature
from wrung.targets.limit_results import LimitGauge
from wrung.texts import word

BORE = LimitsTarget(ref="a", lower=mm("8"), upper=mm("8.04"))


def gauges(target: LimitsTarget | FitTarget) -> dict[str, LimitGauge]:
    return {each.role: each for each in target.results(()).limits.gauges}


def wanted(target: LimitsTarget | FitTarget) -> dict[str, int]:
    return {each.role or "": each.length for each in target.requirements()}


def test_a_plug_gauge_of_30_h9_as_a_maker_prints_it() -> None:
    """A maker's page: new GO plug 30.000 mm + z 9 µm, ±2 µm: 30.007 mm to 30.011 mm."""
    target = FitTarget(
        ref="p",
        nominal=mm("30"),
        tolerance_class="H9",
        wear_allowance=um("9"),
        gauge_tolerance=um("4"),
        gauge_zone="centred",
    )
    go, not_go = gauges(target)["go"], gauges(target)["not_go"]

    assert wanted(target) == {"go": mm("30.009"), "not_go": mm("30.052")}
    assert (go.smallest_gauge, go.largest_gauge) == (mm("30.007"), mm("30.011"))
    assert (go.moved_inward, go.wear_limit) == (um("9"), mm("30"))
    assert (not_go.smallest_gauge, not_go.largest_gauge) == (mm("30.050"), mm("30.054"))
    assert (not_go.moved_inward, not_go.wear_limit) == (None, None)


def test_the_ten_percent_rule_as_a_gauge_house_works_it() -> None:
    """A gauge maker's page (Northern Gauge): of 1.000 in ±0.001 in GO 0.999 +, NOT GO 1.001 -."""
    target = LimitsTarget(
        ref="p", lower=inch("0.999"), upper=inch("1.001"), gauge_tolerance=uin("100")
    )
    found = gauges(target)

    assert (found["go"].smallest_gauge, found["go"].largest_gauge) == (
        inch("0.9990"),
        inch("0.9991"),
    )
    assert (found["not_go"].smallest_gauge, found["not_go"].largest_gauge) == (
        inch("1.0009"),
        inch("1.0010"),
    )
    assert wanted(target) == {"go": inch("0.99905"), "not_go": inch("1.00095")}


@pytest.mark.parametrize(
    ("feature", "lengths"),
    [
        ("internal", {"go": "8.0065", "not_go": "8.0375"}),
        ("external", {"not_go": "8.0025", "go": "8.0335"}),
    ],
)
def test_everything_moves_inward_and_only_go_wears(
    feature: Feature, lengths: dict[str, str]
) -> None:
    """Guard band 1.5, wear 4, gauge tolerance 2 µm; all together for GO, no wear for NOT GO."""
    target = replace(
        BORE,
        feature=feature,
        guard_band=um("1.5"),
        wear_allowance=um("4"),
        gauge_tolerance=um("2"),
    )

    assert wanted(target) == {role: mm(length) for role, length in lengths.items()}
    worn = {"internal": "8.0015", "external": "8.0385"}[feature]
    assert gauges(target)["go"].wear_limit == mm(worn)


@pytest.mark.parametrize(
    ("feature", "wear", "said"),
    [("internal", "1", "7.999 mm"), ("external", "1", "8.041 mm"), ("internal", "2", None)],
)
def test_new_gauges_past_their_wear_limit_are_remarked_on(
    feature: Feature, wear: str, said: str | None
) -> None:
    target = replace(
        BORE,
        feature=feature,
        wear_allowance=um(wear),
        gauge_tolerance=um("4"),
        gauge_zone="centred",
    )

    found = [each for each in target.results(()).remarks if each.key == "limits.wear"]

    assert len(found) == (0 if said is None else 1)
    assert all(str(said) in word(each) for each in found)


def test_rounding_tells_its_own_error() -> None:
    """1.25 in H7 ends at 1.25 in + 25 µm, that is 984.252 µin; 1.2509 in leaves 84.252 µin."""
    target = FitTarget(
        ref="s", nominal=inch("1.25"), tolerance_class="H7", rounded_to=inch("0.0001")
    )
    found = gauges(target)

    assert found["go"].rounding_error == 0
    assert found["not_go"].rounding_error == inch("1.2509") - inch("1.25") - um("25")
    assert round((found["not_go"].rounding_error or 0) / uin("1"), 3) == -84.252
    assert gauges(BORE)["go"].rounding_error is None


@given(
    feature=st.sampled_from(["internal", "external", "step"]),
    guard=st.integers(0, um("10")),
    wear=st.integers(0, um("10")),
    width=st.one_of(st.none(), st.integers(0, um("10"))),
    step=st.one_of(st.none(), st.integers(1, um("10"))),
)
def test_no_stack_or_gauge_leaves_the_tolerance(
    feature: Feature, guard: int, wear: int, width: int | None, step: int | None
) -> None:
    gauged = feature != "step"
    target = replace(
        BORE,
        feature=feature,
        guard_band=guard,
        wear_allowance=wear if gauged else None,
        gauge_tolerance=width if gauged else None,
        rounded_to=step,
    )
    try:
        lengths = [each.length for each in target.requirements()]
    except InputError:
        return
    for gauge in target.results(()).limits.gauges:
        ends = [gauge.smallest_gauge, gauge.largest_gauge, gauge.wear_limit, *lengths]
        assert all(mm("8") + guard <= each <= mm("8.04") - guard for each in ends if each)
        assert (gauge.moved_inward or 0) >= guard
    assert lengths[0] < lengths[1]


@pytest.mark.parametrize(
    ("target", "at"),
    [
        (replace(BORE, guard_band=um("20")), {"/guard_band"}),
        (replace(BORE, wear_allowance=um("41")), {"/wear_allowance"}),
        (replace(BORE, gauge_tolerance=um("20")), {"/gauge_tolerance"}),
        (
            replace(BORE, guard_band=um("1"), rounded_to=mm("0.03")),
            {"/rounded_to"},
        ),
        (replace(BORE, guard_band=-1), {"/guard_band"}),
        (LimitsTarget(ref="a", upper=mm("1"), guard_band=mm("1")), {"/guard_band"}),
        (LimitsTarget(ref="a", upper=mm("1"), rounded_to=mm("2")), {"/rounded_to"}),
        (
            replace(BORE, feature="step", wear_allowance=1, gauge_tolerance=1),
            {"/wear_allowance", "/gauge_tolerance"},
        ),
    ],
)
def test_what_leaves_no_room_is_pointed_at(target: LimitsTarget, at: set[str]) -> None:
    assert pointers(target) == at


def test_handwork_says_what_a_moved_stack_and_a_gauge_are_for(make_stack: MakeStack) -> None:
    moved = LimitsTarget(ref="a", lower=mm("8"), guard_band=um("1"))
    gauge = LimitsTarget(ref="a", lower=mm("8"), wear_allowance=um("4"), gauge_tolerance=um("2"))

    for language, texts in (
        ("en", ("1 µm inside the limit of 8 mm", "from 8.004 mm to 8.006 mm", "worn to 8 mm")),
        ("de", ("1 µm innerhalb des Grenzmaßes 8 mm", "8,004 mm und 8,006 mm", "auf 8 mm")),
    ):
        said = ""
        for target in (moved, gauge):
            stack = make_stack("a/go", target.requirements()[0].length)
            found = uses(target, target.results([stack]), [stack])
            said += " ".join(word(phrase, language) for _, phrase in found)
        assert all(text in said for text in texts), said
