"""Sizes compared with a stack: what is the same for all these kinds, and what each refuses."""

from decimal import Decimal
from math import hypot
from typing import TypeAlias

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from solver.targets.conftest import MakeStack
from solver.targets.faulty import pointers
from wrung.angles import SECOND, angle
from wrung.lengths import mm, um
from wrung.targets import (
    BenchCentresTarget,
    CentreDistanceTarget,
    GearPinsTarget,
    HeightSettingTarget,
    RadiusGaugeTarget,
    RingBoreTarget,
    ThreadWiresTarget,
    VBlockTarget,
)
from wrung.targets.contributions import SizeContribution, of_limits
from wrung.targets.size import FoundSize

HOLES = CentreDistanceTarget(
    ref="h", centre_distance=mm("62.5"), first_pin=mm("10"), second_pin=mm("12")
)
SHAFT = VBlockTarget(
    ref="v", cylinder_diameter=mm("32.15"), master_diameter=mm("30"), master_height=mm("68.4")
)
ARC = RadiusGaugeTarget(ref="a", form="convex", radius=mm("38.5"), roll_diameter=mm("12"))
RING = RingBoreTarget(ref="r", ends="balls", bore=mm("240"), first_end=mm("20"))
ROCKED = replace(RING, shorter_by=mm("0.02"))
THREAD = ThreadWiresTarget(
    ref="t", pitch=mm("1.5"), pitch_diameter=mm("9.026"), wire_diameter=mm("0.9")
)
GEAR = GearPinsTarget(
    ref="w", number_of_teeth=23, module=mm("2.5"), pin_diameter=mm("4.5"),
    tooth_thickness=mm("3.9"),
)  # fmt: skip
HEIGHT = HeightSettingTarget(
    ref="g", height=mm("187.25"), riser=mm("150"), riser_uncertainty=um("2")
)
ON_CENTRES = BenchCentresTarget(
    ref="b", diameter=mm("32"), master_diameter=mm("25"), master_height=mm("87.5")
)
Size: TypeAlias = (
    HeightSettingTarget
    | BenchCentresTarget
    | CentreDistanceTarget
    | VBlockTarget
    | RadiusGaugeTarget
    | RingBoreTarget
    | ThreadWiresTarget
    | GearPinsTarget
)
SIZES: tuple[Size, ...] = (
    HOLES,
    replace(HOLES, stack_position="over"),
    replace(HOLES, second_pin=None, measured_to="edge"),
    SHAFT,
    HEIGHT,
    replace(HEIGHT, riser=0, riser_uncertainty=0),
    ON_CENTRES,
    replace(SHAFT, master_diameter=None, master_height=None, vertex_height=mm("31")),
    replace(SHAFT, included_angle=angle("60")),
    ARC,
    replace(ARC, form="concave"),
    RING,
    replace(ROCKED, measured_rock=mm("4")),
    replace(RING, ends="rods", second_end=mm("35"), end_radius=mm("8"), measured_rock=mm("5")),
    THREAD,
    replace(THREAD, thread_angle=angle("30"), lead=mm("3")),
    GEAR,
    replace(GEAR, number_of_teeth=40, pressure_angle=angle("14.5")),
)


def found(target: Size, make_stack: MakeStack, **stack: int) -> FoundSize:
    """What a stack of the wanted length comes to."""
    (wanted,) = target.requirements()
    return target.found([make_stack(target.ref, wanted.length, **stack)])


def rows(target: Size, make_stack: MakeStack) -> tuple[SizeContribution, ...]:
    """The budget of that."""
    budget = found(target, make_stack).size_budget
    assert budget is not None
    return budget.contributions


@pytest.mark.parametrize("target", SIZES)
class TestEverySize:
    def test_the_exact_stack_stands_for_the_wanted_size(self, target: Size) -> None:
        if isinstance(target, RingBoreTarget):
            target = replace(target, measured_rock=None)
        size = target.size_with(target.exact_length())

        assert size is not None
        assert abs(size - target.wanted_size) <= abs(target.slope()) + 1

    def test_a_measured_length_gives_a_size_as_the_stack_does(
        self, target: Size, make_stack: MakeStack
    ) -> None:
        length = target.exact_length() + um("7")
        measured = replace(target, measured_length=length)

        assert found(measured, make_stack).measured == target.size_with(length)

    def test_sensitivities_are_what_small_changes_do(self, target: Size) -> None:
        """By members of the target that a length or an angle stands in, each moved by itself."""
        length = target.exact_length()
        for each in target.inputs():
            small = 10**11 if each.is_angle else 10**4
            unit = Decimal(206264806247096) if each.is_angle else 1
            member = getattr(target, each.quantity, None)
            if each.quantity in {"pin_clearance", "helix_correction"} or not member:
                continue
            more, less = (
                replace(target, **{each.quantity: member + sign * small}).size_with(length)
                for sign in (1, -1)
            )
            assert more is not None
            assert less is not None
            slope = Decimal(more - less) / (2 * small) * unit
            assert float(slope) == pytest.approx(float(each.sensitivity), rel=1e-3, abs=1e-3)
        more, less = (target.size_with(length + sign * 10**4) for sign in (1, -1))
        assert more is not None
        assert less is not None
        assert (more - less) / 2e4 == pytest.approx(float(target.slope()), rel=1e-3)

    def test_the_budget_is_the_root_of_the_squares(
        self, target: Size, make_stack: MakeStack
    ) -> None:
        some = found(replace(target, comparison_uncertainty=um("3")), make_stack, margin=um("0.4"))
        budget = some.size_budget
        assert budget is not None
        stack, comparing, *_ = budget.contributions

        assert (stack.quantity, comparing.quantity) == ("stack", "comparison")
        assert (stack.standard_uncertainty, comparing.standard_uncertainty) == (
            um("0.2"),
            um("1.5"),
        )
        root = hypot(*(each.contribution for each in budget.contributions))
        assert budget.standard_uncertainty == pytest.approx(root, abs=1)
        assert budget.expanded_uncertainty == 2 * budget.standard_uncertainty

    def test_common_faults(self, target: Size) -> None:
        assert pointers(replace(target, step=0)) == {"/step"}
        assert pointers(replace(target, comparison_uncertainty=-1)) == {"/comparison_uncertainty"}
        assert pointers(replace(target, measured_length=-mm("9999"))) == {"/measured_length"}


class TestCentreDistance:
    @given(st.integers(50, 500), st.integers(1, 40), st.integers(1, 40))
    def test_pins_and_stack_lie_on_one_line(self, distance: int, one: int, other: int) -> None:
        target = replace(
            HOLES, centre_distance=distance * 10**8, first_pin=one * 10**8, second_pin=other * 10**8
        )
        between, over = target.exact_length(), replace(target, stack_position="over").exact_length()

        assert over - between == (one + other) * 10**8
        assert over + between == 2 * distance * 10**8

    def test_the_distance_of_the_stack_as_built(self, make_stack: MakeStack) -> None:
        some = found(HOLES, make_stack, deviation=um("2"))

        assert (some.size_as_built, some.error) == (mm("62.502"), um("2"))

    def test_an_edge_has_one_pin_and_play_counts_for_each_hole(self, make_stack: MakeStack) -> None:
        loose = replace(HOLES, pin_clearance=um("6"))
        edge = replace(loose, second_pin=None, measured_to="edge")
        half = of_limits(Decimal(um("3")))

        assert edge.exact_length() == mm("57.5")
        assert rows(edge, make_stack)[-1].contribution == round(half)
        both = rows(loose, make_stack)[-1].contribution
        assert both == round(half * Decimal(2).sqrt())

    @pytest.mark.parametrize(
        ("changed", "at"),
        [
            (replace(HOLES, centre_distance=0), "/centre_distance"),
            (replace(HOLES, centre_distance=mm("11")), "/centre_distance"),
            (replace(HOLES, first_pin=0), "/first_pin"),
            (replace(HOLES, second_pin=0), "/second_pin"),
            (replace(HOLES, measured_to="edge"), "/second_pin"),
            (replace(HOLES, pin_uncertainty=-1), "/pin_uncertainty"),
            (replace(HOLES, pin_clearance=-1), "/pin_clearance"),
        ],
    )
    def test_faults(self, changed: CentreDistanceTarget, at: str) -> None:
        assert pointers(changed) == {at}


class TestVBlock:
    def test_the_vertex_is_a_master_of_no_diameter(self) -> None:
        """Over a cylinder in a V of 90 degrees: 1.2071 D above the vertex."""
        vertex = replace(
            SHAFT, master_diameter=None, master_height=None, vertex_height=mm("68.4") - mm("36.213")
        )

        assert vertex.exact_length() == pytest.approx(SHAFT.exact_length(), abs=um("0.5"))

    def test_an_error_of_the_angle_hardly_counts_beside_a_like_master(
        self, make_stack: MakeStack
    ) -> None:
        turned = replace(SHAFT, angle_uncertainty=20 * SECOND)
        vertex = replace(turned, master_diameter=None, master_height=None, vertex_height=mm("31"))
        like, far = (rows(each, make_stack)[-1] for each in (turned, vertex))

        assert like.quantity == far.quantity == "included_angle"
        assert like.uncertainty_of_angle == 10 * SECOND
        assert 0 < 10 * like.contribution < far.contribution

    @pytest.mark.parametrize(
        ("changed", "at"),
        [
            (replace(SHAFT, cylinder_diameter=0), "/cylinder_diameter"),
            (replace(SHAFT, included_angle=angle("180")), "/included_angle"),
            (replace(SHAFT, included_angle=0), "/included_angle"),
            (replace(SHAFT, vertex_height=mm("31")), "/vertex_height"),
            (replace(SHAFT, master_height=None), "/vertex_height"),
            (replace(SHAFT, master_height=0), "/master_height"),
            (replace(SHAFT, master_height=mm("29.9")), "/master_height"),
            (replace(SHAFT, master_height=mm("31"), cylinder_diameter=mm("1")),
             "/cylinder_diameter"),
            (replace(SHAFT, angle_uncertainty=-1), "/angle_uncertainty"),
        ],
    )  # fmt: skip
    def test_faults(self, changed: VBlockTarget, at: str) -> None:
        assert pointers(changed) == {at}


class TestRadiusGauge:
    @pytest.mark.parametrize(
        ("changed", "at"),
        [
            (replace(ARC, radius=0), "/radius"),
            (replace(ARC, roll_diameter=0), "/roll_diameter"),
            (replace(ARC, arc=angle("60")), "/roll_diameter"),
            (replace(ARC, arc=angle("361")), "/arc"),
            (replace(ARC, form="concave", roll_diameter=mm("60")), "/roll_diameter"),
            (replace(ARC, form="concave", roll_diameter=mm("33")), "/roll_diameter"),
            (replace(ARC, form="concave", roll_diameter=mm("0.1")), "/roll_diameter"),
            (replace(ARC, measured_length=mm("12")), "/measured_length"),
            (replace(ARC, roll_uncertainty=-1), "/roll_uncertainty"),
        ],
    )
    def test_rolls_that_cannot_touch_and_other_faults(
        self, changed: RadiusGaugeTarget, at: str
    ) -> None:
        assert pointers(changed) == {at}


class TestRingBore:
    def test_it_rocks_by_the_known_formula_near_enough(self, make_stack: MakeStack) -> None:
        """D = L + w² / 8L for pointed rods: 0.02 mm shorter, it moves by 6.2 mm in 240 mm."""
        rods = replace(ROCKED, ends="rods")
        (wanted,) = rods.requirements()
        rock = rods.results([make_stack("r", wanted.length)]).expected_rock

        assert rock is not None
        assert rock**2 / (8 * mm("239.98")) == pytest.approx(mm("0.02"), rel=1e-3)

    def test_the_measured_movement_tells_the_bore(self, make_stack: MakeStack) -> None:
        (wanted,) = ROCKED.requirements()
        rock = ROCKED.results([make_stack("r", wanted.length)]).expected_rock
        some = found(replace(ROCKED, measured_rock=rock), make_stack)

        assert some.error == pytest.approx(0, abs=2)
        more = found(replace(ROCKED, measured_rock=(rock or 0) + mm("1")), make_stack)
        # 2 w dw / 8 Lc, by hand: 6.2 mm and 1 mm over 220 mm between the centres, and 1² / 8 Lc.
        assert more.error == pytest.approx(um("7.3"), rel=0.05)

    @pytest.mark.parametrize(
        ("changed", "at"),
        [
            (replace(RING, bore=0), "/bore"),
            (replace(RING, first_end=mm("120")), "/bore"),
            (replace(RING, second_end=0), "/second_end"),
            (replace(ROCKED, second_end=mm("25")), "/second_end"),
            (replace(ROCKED, shorter_by=mm("3")), "/shorter_by"),
            (replace(RING, end_radius=mm("2")), "/end_radius"),
            (replace(RING, ends="rods", end_radius=mm("21")), "/end_radius"),
            (replace(RING, measured_rock=mm("230")), "/measured_rock"),
            (replace(RING, rock_uncertainty=-1), "/rock_uncertainty"),
        ],
    )
    def test_faults(self, changed: RingBoreTarget, at: str) -> None:
        assert pointers(changed) == {at}


class TestThreadWires:
    @pytest.mark.parametrize(
        ("changed", "at"),
        [
            (replace(THREAD, pitch=None), "/pitch"),
            (replace(THREAD, threads_per_inch=Decimal(20)), "/pitch"),
            (replace(THREAD, pitch=0), "/pitch"),
            (replace(THREAD, pitch_diameter=None), "/pitch_diameter"),
            (replace(THREAD, major_diameter=mm("10")), "/pitch_diameter"),
            (
                replace(THREAD, pitch_diameter=None, major_diameter=mm("10"),
                        thread_angle=angle("55")),
                "/major_diameter",
            ),
            (replace(THREAD, thread_angle=angle("20")), "/thread_angle"),
            (replace(THREAD, wire_diameter=mm("0.7")), "/wire_diameter"),
            (replace(THREAD, wire_diameter=mm("1.6")), "/wire_diameter"),
            (replace(THREAD, lead=mm("6")), "/lead"),
            (replace(THREAD, lead=mm("0.75")), "/lead"),
            (replace(THREAD, lead=mm("2.25")), "/lead"),
            (replace(THREAD, pitch_diameter=mm("1")), "/pitch"),
            (replace(THREAD, wire_uncertainty=-1), "/wire_uncertainty"),
            (replace(THREAD, measured_length=mm("3")), "/measured_length"),
        ],
    )  # fmt: skip
    def test_wires_that_cannot_touch_and_other_faults(
        self, changed: ThreadWiresTarget, at: str
    ) -> None:
        assert pointers(changed) == {at}

    def test_the_best_wires_do_not_feel_the_thread_angle(self, make_stack: MakeStack) -> None:
        best = replace(THREAD, wire_diameter=None, angle_uncertainty=600 * SECOND)
        thick = replace(best, wire_diameter=mm("1"))

        def by_angle(target: ThreadWiresTarget) -> int:
            by_name = {each.quantity: each for each in rows(target, make_stack)}
            return by_name["thread_angle"].contribution

        assert best.results(()).best_wire_diameter == best.results(()).wire_diameter
        assert 20 * by_angle(best) < by_angle(thick)


class TestGearPins:
    @pytest.mark.parametrize(
        ("changed", "at"),
        [
            (replace(GEAR, module=None), "/module"),
            (replace(GEAR, diametral_pitch=Decimal(10)), "/module"),
            (replace(GEAR, module=0), "/module"),
            (replace(GEAR, number_of_teeth=2), "/number_of_teeth"),
            (replace(GEAR, pressure_angle=angle("5")), "/pressure_angle"),
            (replace(GEAR, profile_shift=Decimal("0.1")), "/profile_shift"),
            (
                replace(GEAR, tooth_thickness=None, profile_shift=Decimal(-3)),
                "/profile_shift",
            ),
            (replace(GEAR, tooth_thickness=mm("8")), "/tooth_thickness"),
            (replace(GEAR, lower_deviation=mm("-4")), "/lower_deviation"),
            (
                replace(GEAR, lower_deviation=um("10"), upper_deviation=um("-10")),
                "/upper_deviation",
            ),
            (replace(GEAR, pin_diameter=mm("2.6")), "/pin_diameter"),
            (replace(GEAR, pin_diameter=mm("1")), "/pin_diameter"),
            (replace(GEAR, pin_diameter=mm("9")), "/pin_diameter"),
            (replace(GEAR, root_diameter=mm("56")), "/pin_diameter"),
            (replace(GEAR, pin_uncertainty=-1), "/pin_uncertainty"),
        ],
    )
    def test_pins_that_cannot_touch_and_other_faults(
        self, changed: GearPinsTarget, at: str
    ) -> None:
        assert pointers(changed) == {at}

    def test_limits_of_the_thickness_are_limits_over_the_pins(self) -> None:
        target = replace(GEAR, lower_deviation=um("-40"), upper_deviation=um("5"))
        result = target.results(())

        assert result.smallest_over_pins is not None
        assert result.largest_over_pins is not None
        for over, wanted in (
            (result.smallest_over_pins, mm("3.86")),
            (result.largest_over_pins, mm("3.905")),
        ):
            thickness = target.size_with(over)
            assert thickness is not None
            assert abs(thickness - wanted) <= 1
