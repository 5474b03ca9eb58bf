"""Records of instruments: errors, uncertainties and statements from readings."""

from decimal import Decimal
from math import sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from solver.targets.conftest import MakeStack
from solver.targets.faulty import pointers
from wrung import solve
from wrung.blocks import Block
from wrung.handwork.uses import uses
from wrung.instruments.check_points import InstrumentKind
from wrung.lengths import inch, mm, uin, um
from wrung.metrology import Conditions, exactly
from wrung.targets import CheckPointsTarget
from wrung.targets.built import BudgetedStack, budgeted
from wrung.targets.check_points_result import CheckPoint, CheckPointsResult

SHELF = {
    name: Block(id=name, nominal=mm(name), deviation=um(deviation), expanded_uncertainty=um("0.1"))
    for name, deviation in (("1", "0.2"), ("5", "-0.3"), ("10", "1"), ("20", "0"))
}
OFF_CENTRE = Conditions(off_centre=0.0)


def stacks(
    target: CheckPointsTarget, conditions: Conditions = OFF_CENTRE
) -> tuple[BudgetedStack, ...]:
    found = solve(list(SHELF.values()), [replace(target, readings=())]).stacks
    return tuple(budgeted(each, SHELF, target.in_use(conditions), 0) for each in found)


def record(target: CheckPointsTarget) -> CheckPointsResult:
    return target.results(stacks(target))


def micrometer(*readings: str, **members: object) -> CheckPointsTarget:
    target = CheckPointsTarget(
        ref="m", points=(mm("1"), mm("5")), readings=tuple(map(mm, readings))
    )
    return replace(target, **members)


def row(target: CheckPointsTarget, place: int) -> CheckPoint:
    return record(target).rows[place]


def test_errors_are_from_the_best_known_lengths() -> None:
    """1 mm is 0.2 µm long, 5 mm is 0.3 µm short."""
    found = record(micrometer("1.001", "5.001"))

    assert [each.error for each in found.rows] == [um("0.8"), um("1.3")]
    assert found.error_span == um("0.5")


def test_the_uncertainty_has_stack_step_repeats_and_form() -> None:
    members = {"resolution": um("1"), "repeatability": um("0.5"), "mechanical_effects": um("0.3")}
    found = row(micrometer("1", "5", **members), 0)

    expected = 2 * sqrt(0.05**2 + 1 / 12 + 0.5**2 + 0.3**2 / 3)
    assert (found.expanded_uncertainty or 0) / um("1") == pytest.approx(expected, abs=1e-4)


@pytest.mark.parametrize(
    ("multiple", "statement", "passed"),
    [("0", "pass", True), ("1", "conditional_pass", False), ("-1", "pass", True)],
)
def test_the_rule_decides(multiple: str, statement: str, passed: bool) -> None:  # noqa: FBT001
    """An error of 1.8 µm of 2 µm, with U 0.6 µm and more."""
    target = micrometer(
        "1.002",
        "5",
        permissible_error=um("2"),
        resolution=um("1"),
        guard_multiple=Decimal(multiple),
    )
    found = record(target)

    assert (found.rows[0].statement, found.passed) == (statement, passed)
    assert Decimal("0.6") < (found.rows[0].conformity_probability or 0) < Decimal("0.9")


def test_a_missing_resolution_is_remarked() -> None:
    known = record(micrometer("1", "5", resolution=um("1")))
    unknown, empty = record(micrometer("1", "5")), record(micrometer())

    keys = [{said.key for said in each.remarks} for each in (known, unknown, empty)]
    assert ["check.no_resolution" in each for each in keys] == [False, True, False]


def test_without_limits_or_readings_nothing_is_said() -> None:
    empty, full = record(micrometer()), record(micrometer("1", "5", instrument="other"))

    assert (empty.rows[0].error, empty.passed, empty.error_span) == (None, None, None)
    assert (full.rows[0].statement, full.passed) == (None, None)


def test_an_indicator_shows_the_travel_from_its_zero() -> None:
    """Zeroed on 10.001 mm; 15 mm is 15.0007 mm: 4.9997 mm of travel."""
    target = CheckPointsTarget(
        ref="d",
        instrument="dial_indicator",
        pitch=mm("0.5"),
        travel=mm("5"),
        range_from=mm("10"),
    )
    (shown,) = (r.role for r in target.requirements() if r.length == mm("15"))
    readings = tuple(r.length - mm("10") for r in target.requirements())
    filled = replace(target, readings=readings)
    rows = {each.role: each for each in filled.results(_of_two(str(shown))).rows}

    assert rows["lower_end"].error == 0
    assert rows[str(shown)].error == um("0.3")


def test_an_indicator_is_zeroed_before_points_of_your_own_too() -> None:
    """On 1.0002 mm: 5 mm is 4.9997 mm, 3.9995 mm of travel."""
    target = CheckPointsTarget(
        ref="d",
        instrument="dial_indicator",
        points=(mm("5"),),
        range_from=mm("1"),
        readings=(0, mm("4")),
    )
    found = record(target)

    assert [row.error for row in found.rows] == [0, um("0.5")]
    said = [each.key for _, each in uses(target, found, ())]
    assert said == ["use.indicator_zero", "use.indicator_point"]


@pytest.mark.parametrize("instrument", ["depth_gauge", "dial_indicator"])
def test_on_the_plate_it_is_set_to_zero_before_points_of_your_own(
    instrument: InstrumentKind,
) -> None:
    target = CheckPointsTarget(ref="d", instrument=instrument, points=(mm("5"),))
    (_, first), *_ = uses(target, record(target), ())

    assert first.key in ("use.depth_zero", "use.indicator_plate")
    assert target.cautions_in_use == ("caution.standing",)


@pytest.mark.parametrize(
    ("resolution", "expected"), [(None, (0.49922, 0.50078)), (uin("500"), (0.4995, 0.5005))]
)
def test_readings_to_accept_can_be_read(
    resolution: int | None, expected: tuple[float, float], make_stack: MakeStack
) -> None:
    """20 um are 787.4 uin: a caliper of 0.0005 in shows nothing between."""
    target = CheckPointsTarget(
        ref="c", instrument="fine_caliper", points=(inch("0.5"),), resolution=resolution
    )
    stack = make_stack("c/point_1", inch("0.5"))
    ((_, said),) = uses(target, target.results([stack]), [stack], unit="in")
    figures = {each.name: each.value for each in said.figures}

    assert (figures["lowest"], figures["highest"]) == tuple(inch(str(each)) for each in expected)


def test_a_guard_band_leaves_no_readings_to_accept_beforehand() -> None:
    target = replace(micrometer(permissible_error=um("3")), guard_multiple=Decimal(1))

    assert {said.key for _, said in uses(target, record(target), ())} == {"use.point"}


def _of_two(role: str) -> list[BudgetedStack]:
    two = CheckPointsTarget(ref="d", points=(mm("10"), mm("15")))
    low, high = stacks(two)
    return [replace(low, role="lower_end"), replace(high, role=role)]


def test_a_warm_instrument_of_steel_grows_with_the_stack() -> None:
    """Both at 25 °C: the error is that of 20 °C."""
    warm = Conditions(off_centre=0.0, temperature=exactly(25.0))
    target = micrometer("1.001", "5.001")

    found = target.results(stacks(target, warm)).rows[1]

    assert (found.error or 0) / um("1") == pytest.approx(1.3, abs=0.001)


@given(st.integers(-um("9"), um("9")), st.integers(1, um("9")))
def test_simple_acceptance_is_the_limit_itself(error: int, limit: int) -> None:
    target = micrometer("1", "5", permissible_error=limit, resolution=um("1"))
    shifted = replace(target, readings=(mm("1") + um("0.2") + error, mm("5")))

    found = shifted.results(STACKS).rows[0]

    assert found.error == error
    assert found.statement == ("pass" if abs(error) <= limit else "fail")
    assert ((found.conformity_probability or 0) >= Decimal("0.4999")) <= (abs(error) <= limit)


STACKS = stacks(micrometer("1", "5"))


@pytest.mark.parametrize(
    ("target", "at"),
    [
        (micrometer("1"), "/readings"),
        (micrometer("1", "5", permissible_error=0), "/permissible_error"),
        (micrometer("1", "5", resolution=-1), "/resolution"),
        (micrometer("1", "5", guard_multiple=Decimal(11)), "/guard_multiple"),
    ],
)
def test_faults(target: CheckPointsTarget, at: str) -> None:
    assert pointers(target) == {at}
