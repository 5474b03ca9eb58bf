"""Tapers, rolls and dovetails against plane geometry in numpy and published examples.

The geometry is done by distances of points from lines, not by the formulas under test.
"""

from typing import Literal

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from wrung.angles import DEGREE, MINUTE, SECOND, angle
from wrung.errors import InputError
from wrung.lengths import QUANTA, mm
from wrung.targets import DovetailTarget, ExternalTaperTarget, InternalTaperTarget, TwoRollsTarget

MM = QUANTA["mm"]
Point = tuple[float, float]


def off_line(point: Point, foot: Point, direction: Point) -> float:
    """Distance of a point from the line through ``foot``."""
    along = np.array(direction) / np.hypot(*direction)
    x, y = np.array(point) - np.array(foot)
    return float(abs(x * along[1] - y * along[0]))


def is_sound(target: InternalTaperTarget) -> bool:
    """Whether the target finds nothing wrong with itself."""
    try:
        target.requirements()
    except InputError:
        return False
    return True


class TestExternalTaper:
    @given(
        st.integers(1 * 60, 100 * 60), st.integers(5, 80), st.integers(2, 20), st.integers(10, 90)
    )
    def test_rolls_touch_plate_and_cone_at_the_expected_sizes(
        self, included: int, small_end: int, roll: int, height: int
    ) -> None:
        target = ExternalTaperTarget(
            ref="t",
            included_angle=included * MINUTE,
            small_end=small_end * MM,
            roll_diameter=roll * MM,
            stack_length=height * MM,
        )
        half = np.radians(included / 120)
        foot, flank = (small_end / 2, 0.0), (float(np.tan(half)), 1.0)
        found = target.results(())

        for size, lift in ((found.expected_low, 0), (found.expected_high, height)):
            centre = ((size / MM - roll) / 2, lift + roll / 2)
            assert off_line(centre, foot, flank) == pytest.approx(roll / 2, abs=1e-7)

    def test_worked_example(self) -> None:
        """M1 62.400, M2 74.800, H 40, d 10: 17.62147 degrees, end 40.73059; computed by hand."""
        target = ExternalTaperTarget(
            ref="t",
            included_angle=angle("17.62147"),
            small_end=mm("40.73059"),
            roll_diameter=mm("10"),
            stack_length=mm("40"),
            measured_low=mm("62.4"),
            measured_high=mm("74.8"),
        )

        found = target.results(())

        assert found.measured_angle is not None
        assert found.measured_small_end is not None
        assert found.measured_angle / DEGREE == pytest.approx(17.62147, abs=1e-5)
        assert found.measured_small_end / MM == pytest.approx(40.73059, abs=1e-5)
        assert found.expected_low / MM == pytest.approx(62.4, abs=1e-5)
        assert found.expected_high / MM == pytest.approx(74.8, abs=1e-5)

    def test_the_sensitivity_is_what_a_micrometre_does(self) -> None:
        def measured(high: str) -> int:
            found = ExternalTaperTarget(
                ref="t",
                included_angle=angle("10"),
                small_end=mm("20"),
                roll_diameter=mm("10"),
                stack_length=mm("50"),
                measured_low=mm("40"),
                measured_high=mm(high),
            ).results(())
            assert found.measured_angle is not None
            return found.measured_angle

        turned = (measured("48.7494") - measured("48.7484")) / SECOND
        target = ExternalTaperTarget(
            ref="t",
            included_angle=angle("10"),
            small_end=mm("20"),
            roll_diameter=mm("10"),
            stack_length=mm("50"),
        )
        assert float(target.results(()).sensitivity) == pytest.approx(turned, rel=1e-3)


class TestInternalTaper:
    def target(
        self, measured_large_ball_depth: int, measured_small_ball_depth: int
    ) -> InternalTaperTarget:
        """The published exam item: balls 40 and 32 mm, 5.73197 degrees."""
        return InternalTaperTarget(
            ref="t",
            included_angle=angle("5.73197"),
            large_end=mm("41.2517"),
            large_ball=mm("40"),
            small_ball=mm("32"),
            measured_large_ball_depth=measured_large_ball_depth,
            measured_small_ball_depth=measured_small_ball_depth,
        )

    def test_published_exam_item(self) -> None:
        """A question on byjus.com: the large ball protrudes 8 mm, the small one is 76 mm down."""
        found = self.target(-mm("8"), mm("76")).results(())

        assert found.measured_angle is not None
        # sin a = (20 - 16) / 80 between centres 12 and 92 mm down.
        exact = 2 * np.degrees(np.arcsin(0.05))
        assert found.measured_angle / DEGREE == pytest.approx(exact, abs=1e-8)
        assert found.centre_distance / MM == pytest.approx(80, abs=1e-3)

    @given(
        st.integers(2 * 60, 60 * 60), st.integers(15, 60), st.integers(5, 40), st.integers(2, 30)
    )
    def test_balls_touch_the_flank_where_they_are_said_to_lie(
        self, included: int, large_end: int, large: int, small: int
    ) -> None:
        target = InternalTaperTarget(
            ref="t",
            included_angle=included * MINUTE,
            large_end=large_end * MM,
            large_ball=max(large, small + 1) * MM,
            small_ball=small * MM,
        )
        # A ball that would rest on the edge has no place in the taper.
        assume(is_sound(target))
        found = target.results(())
        half = np.radians(included / 120)
        foot, flank = (large_end / 2, 0.0), (-float(np.tan(half)), 1.0)

        for depth, ball in (
            (found.large_ball_depth, target.large_ball),
            (found.small_ball_depth, target.small_ball),
        ):
            centre = (0.0, (depth + ball / 2) / MM)
            assert off_line(centre, foot, flank) == pytest.approx(ball / MM / 2, abs=1e-6)


class TestTwoRolls:
    @pytest.mark.parametrize(
        ("arrangement", "included"), [("straight_edges", 23.07392), ("on_plate", 22.61986)]
    )
    def test_worked_example(
        self, arrangement: Literal["straight_edges", "on_plate"], included: float
    ) -> None:
        """D 25, d 10, stack 20, computed by hand from C 37.5."""
        target = TwoRollsTarget(
            ref="t",
            angle=angle("20"),
            large_roll=mm("25"),
            small_roll=mm("10"),
            arrangement=arrangement,
        )

        assert target.angle_with(mm("20")) / DEGREE == pytest.approx(included, abs=1e-5)

    @given(st.integers(60, 100 * 60), st.integers(11, 60), st.integers(2, 10))
    def test_the_straight_edge_over_rolls_on_a_plate_touches_both(
        self, minutes: int, large: int, small: int
    ) -> None:
        target = TwoRollsTarget(
            ref="t", angle=minutes * MINUTE, large_roll=large * MM, small_roll=small * MM
        )
        gap = target.exact_length() / MM
        slope = np.radians(minutes / 60)
        # The line over the rolls: touches the small one on top, at the slope of the angle.
        normal = np.array([-np.sin(slope), np.cos(slope)])
        touching = np.array([0.0, small / 2]) + normal * small / 2
        far = (gap + (small + large) / 2, large / 2)

        direction = (float(np.cos(slope)), float(np.sin(slope)))
        assert off_line(far, (touching[0], touching[1]), direction) == pytest.approx(
            large / 2, abs=1e-6
        )

    def test_the_sensitivity_is_a_derivative(self) -> None:
        target = TwoRollsTarget(
            ref="t", angle=angle("30"), large_roll=mm("40"), small_roll=mm("10")
        )
        length = target.exact_length()
        fall = (target.angle_with(length - MM // 100) - target.angle_with(length + MM // 100)) / 20

        assert float(target.sensitivity()) == pytest.approx(fall / SECOND, rel=1e-3)


class TestDovetail:
    def target(self, form: Literal["male", "female"]) -> DovetailTarget:
        return DovetailTarget(
            ref="t",
            form=form,
            angle=angle("60"),
            width=50 * MM,
            roll_diameter=10 * MM,
        )

    def test_worked_examples(self) -> None:
        """W 50, 60 degrees, d 10; computed by hand from Machinery's Handbook's formula."""
        assert self.target("male").over_rolls() / MM == pytest.approx(77.32051, abs=5e-6)
        assert self.target("female").over_rolls() / MM == pytest.approx(22.67949, abs=5e-6)

    def test_a_published_inch_example(self) -> None:
        """1.0 in wide, 60 degrees, 0.25 in pins: 1.6830 in over them; an example on the web."""
        target = DovetailTarget(
            ref="t",
            form="male",
            angle=angle("60"),
            width=QUANTA["in"],
            roll_diameter=QUANTA["in"] // 4,
        )

        assert target.over_rolls() / QUANTA["in"] == pytest.approx(1.6830, abs=5e-5)

    @given(st.integers(20 * 60, 89 * 60), st.integers(20, 200), st.integers(2, 9))
    def test_rolls_touch_floor_and_flank(self, minutes: int, width: int, roll: int) -> None:
        target = DovetailTarget(
            ref="t",
            form="male",
            angle=minutes * MINUTE,
            width=width * MM,
            roll_diameter=roll * MM,
        )
        # The right corner; the flank leans outward over the floor at the dovetail's angle.
        slope = np.radians(minutes / 60)
        centre = ((target.over_rolls() / MM - roll) / 2, roll / 2)

        flank = (float(np.cos(slope)), float(np.sin(slope)))
        assert off_line(centre, (width / 2, 0.0), flank) == pytest.approx(roll / 2, abs=1e-6)
        # The point of contact: from the corner along the flank, as far as along the floor.
        contact = (centre[0] - width / 2) * np.sin(slope)
        assert target.contact_height() / MM == pytest.approx(contact, abs=1e-6)
