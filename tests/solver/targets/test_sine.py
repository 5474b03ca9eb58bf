"""Sine bars and compound plates as targets; their figures are held by the reference tests."""

import pytest
from msgspec.structs import replace

from solver.targets.conftest import MakeStack
from solver.targets.faulty import pointers
from wrung.angles import SECOND, angle
from wrung.answers import Nearest, Unmet
from wrung.lengths import inch, mm, um
from wrung.targets import CompoundSineTarget, SineBar, SineTarget
from wrung.targets.compound_sine import plane

BAR = SineBar(centre_distance=mm("100"))
SINE = SineTarget(ref="s", bar=BAR, angle=angle("30"))


class TestSine:
    def test_one_stack_for_the_height_rounded_to_the_step(self) -> None:
        (found,) = replace(SINE, angle=angle("27"), step=mm("0.005")).requirements()

        assert (found.target, found.length) == ("s", mm("45.4"))

    def test_two_stacks_where_the_lower_roll_stands_on_one(self, make_stack: MakeStack) -> None:
        target = replace(SINE, lower_stack=mm("20"))
        low, high = target.requirements()

        assert (low.role, low.length) == ("low", mm("20"))
        assert (high.role, high.length) == ("high", mm("70"))

        stacks = [
            make_stack("s/low", mm("20"), deviation=um("1"), margin=um("0.2")),
            make_stack("s/high", mm("70"), deviation=um("1"), margin=um("0.3")),
        ]
        reached = target.results(stacks).setting
        assert reached.error == 0
        # 0.5 µm on 100 mm at 30 degrees: 0.5 x 2.382 seconds.
        assert reached.uncertainty == pytest.approx(1.191 * SECOND, rel=1e-3)
        assert target.results(stacks[:1]).setting.angle_reached is None

    def test_the_error_of_the_stack_becomes_an_error_of_the_angle(
        self, make_stack: MakeStack
    ) -> None:
        found = SINE.results([make_stack("s", mm("50"), off=um("2"), deviation=-um("1"))])

        # 1 µm too high.
        assert found.setting.error == pytest.approx(2.382 * SECOND, rel=1e-3)

    # The last two would be rounded to a height that is too far off.
    @pytest.mark.parametrize(("wanted", "within"), [("30", 10), ("12°30'", 0.5), ("5.5", 0.02)])
    def test_the_window_holds_just_the_angles_allowed(self, wanted: str, within: float) -> None:
        most = round(within * SECOND)
        (found,) = replace(SINE, angle=angle(wanted), max_angle_error=most).requirements()

        assert found.tolerance.lower <= 0 <= found.tolerance.upper
        low = BAR.angle(found.length + found.tolerance.lower)
        high = BAR.angle(found.length + found.tolerance.upper)
        assert low == pytest.approx(angle(wanted) - most, abs=SECOND / 10_000)
        assert high == pytest.approx(angle(wanted) + most, abs=SECOND / 10_000)

    def test_above_45_degrees_the_complement_is_recommended(self) -> None:
        found = replace(SINE, angle=angle("60")).results(())

        assert [said.key for said in found.remarks] == ["sine.steep"]
        assert (found.complement, found.complement_height) == (angle("30"), mm("50"))
        assert replace(SINE, angle=angle("45")).results(()).remarks == ()

    def test_the_complement_can_be_set(self) -> None:
        target = replace(SINE, angle=angle("60"), complement=True)

        assert [requirement.length for requirement in target.requirements()] == [mm("50")]
        assert target.results(()).setting.angle == angle("30")
        assert target.results(()).remarks == ()

    def test_nearest_settable_angles_where_the_height_cannot_be_built(self) -> None:
        unmet = Unmet(
            target="s",
            reason="cannot_be_built",
            nearest_below=Nearest(length=mm("49.9"), blocks=()),
            nearest_above=Nearest(length=mm("100.1"), blocks=()),
        )

        found = SINE.results((), [unmet]).setting

        assert found.settable_below == BAR.angle(mm("49.9"))
        assert found.settable_above is None

    def test_nearest_settable_angles_above_a_lower_stack(self) -> None:
        """What stands under the lower roll is taken off the nearest height."""
        target = replace(SINE, lower_stack=mm("10"))
        near = Nearest(length=mm("59.9"), blocks=())
        unmet = Unmet(target="s", role="high", reason="cannot_be_built", nearest_below=near)

        assert target.results((), [unmet]).setting.settable_below == BAR.angle(mm("49.9"))

    @pytest.mark.parametrize("text", ["0", "90", "91", "-5"])
    def test_angles_outside_the_reach(self, text: str) -> None:
        assert pointers(replace(SINE, angle=angle(text))) == {"/angle"}

    def test_an_angle_too_small_for_the_step(self) -> None:
        assert pointers(replace(SINE, angle=angle("0°0'1\""), step=mm("0.005"))) == {"/angle"}

    def test_every_fault_is_found_at_once(self) -> None:
        bar = SineBar(centre_distance=inch("5"), deviation=inch("0.1"), expanded_uncertainty=-1)
        bad = SineTarget(ref="s", bar=bar, angle=0, lower_stack=0, max_angle_error=-1, step=0)

        assert pointers(bad) == {
            "/bar/deviation",
            "/bar/expanded_uncertainty",
            "/angle",
            "/lower_stack",
            "/max_angle_error",
            "/step",
        }
        assert "/bar/centre_distance" in pointers(replace(bad, bar=SineBar(centre_distance=0)))


class TestCompoundSine:
    target = CompoundSineTarget(
        ref="c",
        base=BAR,
        top=SineBar(centre_distance=mm("50")),
        angles_given_as="settings",
        first_angle=angle("20"),
        second_angle=angle("25"),
    )

    def test_a_stack_for_either_hinge_by_its_own_centre_distance(self) -> None:
        base, top = self.target.requirements()

        assert (base.role, base.length) == ("base", mm("34.202"))
        assert (top.role, top.length) == ("top", mm("21.131"))

    def test_a_hinge_that_stays_flat_needs_no_stack(self, make_stack: MakeStack) -> None:
        flat = replace(self.target, first_angle=angle("0"))

        assert [requirement.role for requirement in flat.requirements()] == ["top"]
        found = flat.results([make_stack("c/top", mm("21.131"))])
        assert found.reached_plane is not None
        assert found.reached_plane.true_tilt == pytest.approx(angle("25"), abs=2 * SECOND)
        assert found.reached_plane.direction == angle("90")

    def test_the_plane_reached_needs_both_stacks(self, make_stack: MakeStack) -> None:
        both = [make_stack("c/base", mm("34.202")), make_stack("c/top", mm("21.131"))]

        assert self.target.results(both[:1]).reached_plane is None
        reached = self.target.results(both).reached_plane
        assert reached is not None
        assert reached.true_tilt == pytest.approx(angle("31.60833"), abs=3 * SECOND)

    def test_nearest_settable_angles_of_either_hinge(self) -> None:
        near = Nearest(length=mm("34.2"), blocks=())
        unmet = Unmet(target="c", role="base", reason="cannot_be_built", nearest_below=near)

        found = self.target.results((), [unmet])

        assert found.base.settable_below == BAR.angle(mm("34.2"))
        assert found.top.settable_below is None

    def test_the_error_of_the_tilt_comes_from_both_hinges(self, make_stack: MakeStack) -> None:
        """The tilt's worst case is what both hinges, each off by its own, make of it."""
        margin = um("0.4")
        both = [
            make_stack("c/base", mm("34.202"), margin=margin),
            make_stack("c/top", mm("21.131"), margin=margin),
        ]

        found = self.target.results(both)

        assert found.reached_plane is not None
        assert found.tilt_error == found.reached_plane.true_tilt - found.wanted_plane.true_tilt
        base, top = found.base.uncertainty, found.top.uncertainty
        assert base is not None
        assert top is not None
        off = plane(found.base.angle + base, found.top.angle + top).true_tilt
        assert found.tilt_uncertainty == pytest.approx(off - found.wanted_plane.true_tilt, rel=1e-4)
        assert self.target.results(()).tilt_uncertainty is None

    def test_steep_hinges_are_remarked(self) -> None:
        steep = replace(self.target, second_angle=angle("46"))

        assert [said.key for said in steep.results(()).remarks] == ["compound.steep"]

    @pytest.mark.parametrize(
        ("first", "second", "at"),
        [
            ("90", "20", "/first_angle"),
            ("20", "90", "/second_angle"),
            ("0", "0", "/first_angle"),
            ("-1", "20", "/first_angle"),
        ],
    )
    def test_angles_outside_the_reach(self, first: str, second: str, at: str) -> None:
        bad = replace(self.target, first_angle=angle(first), second_angle=angle(second))

        assert pointers(bad) == {at}

    def test_a_true_tilt_may_rise_straight_along_the_base_hinge(self) -> None:
        target = replace(
            self.target,
            angles_given_as="true_tilt",
            first_angle=angle("25"),
            second_angle=angle("90"),
        )

        assert [requirement.role for requirement in target.requirements()] == ["top"]
