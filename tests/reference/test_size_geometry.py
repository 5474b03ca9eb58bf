"""Sizes by pins, rolls, balls and wires against plane geometry in numpy and published figures.

The geometry is done by distances of points, lines and circles, not by the formulas under test.
"""

from decimal import Decimal
from typing import Literal

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from wrung.angles import MINUTE, angle
from wrung.lengths import QUANTA, inch, mm
from wrung.targets import (
    BenchCentresTarget,
    GearPinsTarget,
    RadiusGaugeTarget,
    RingBoreTarget,
    ThreadWiresTarget,
    VBlockTarget,
)

MM = QUANTA["mm"]


class TestVBlock:
    @given(st.integers(20 * 60, 170 * 60), st.integers(2, 90), st.integers(1, 40))
    def test_the_cylinder_touches_both_flanks(
        self, minutes: int, diameter: int, vertex: int
    ) -> None:
        target = VBlockTarget(
            ref="t",
            cylinder_diameter=diameter * MM,
            included_angle=minutes * MINUTE,
            vertex_height=vertex * MM,
        )
        axis = target.exact_length() / MM - diameter / 2 - vertex
        half = np.radians(minutes / 120)
        # Distance of the axis from a flank, which leans by half the angle from the vertical.
        assert axis * float(np.sin(half)) == pytest.approx(diameter / 2, abs=1e-6)

    def test_the_usual_factor_at_90_degrees(self) -> None:
        """Height over a cylinder, 1.2071 D above the vertex; in textbooks, from memory."""
        target = VBlockTarget(ref="t", cylinder_diameter=mm("10"), vertex_height=mm("1"))

        assert target.exact_length() / MM - 1 == pytest.approx(12.0711, abs=5e-5)


class TestBenchCentres:
    @given(st.integers(1, 90), st.integers(1, 90), st.integers(60, 200))
    def test_both_cylinders_have_one_axis(self, diameter: int, master: int, height: int) -> None:
        target = BenchCentresTarget(
            ref="t",
            diameter=diameter * MM,
            master_diameter=master * MM,
            master_height=height * MM,
        )
        axis = height - master / 2

        assert target.exact_length() / MM - diameter / 2 == pytest.approx(axis, abs=1e-6)


class TestRadiusGauge:
    @given(st.integers(20, 200), st.integers(2, 40))
    def test_convex_rolls_touch_plate_and_arc(self, radius: int, roll: int) -> None:
        target = RadiusGaugeTarget(
            ref="t", form="convex", radius=radius * MM, roll_diameter=roll * MM
        )
        x = (target.exact_length() / MM - roll) / 2
        centres = float(np.hypot(x, radius - roll / 2))

        assert centres == pytest.approx(radius + roll / 2, abs=1e-6)

    @given(st.integers(40, 200), st.integers(2, 30))
    def test_concave_rolls_touch_the_arc_and_each_other(self, radius: int, roll: int) -> None:
        target = RadiusGaugeTarget(
            ref="t", form="concave", radius=radius * MM, roll_diameter=roll * MM
        )
        rise = target.exact_length() / MM
        # The outer centre lies on a circle about the arc's centre; the middle one straight below.
        orbit = radius - roll / 2
        x = float(np.sqrt(orbit**2 - (orbit - rise) ** 2))

        assert float(np.hypot(x, rise)) == pytest.approx(roll, abs=1e-6)

    def test_the_published_formula(self) -> None:
        """R = (M - d)² / 8d: a lecture on radius measurement (scribd 333492263) and a post.

        The figures are our own: M 62, d 10 give 52² / 80 = 33.8 mm.
        """
        target = RadiusGaugeTarget(ref="t", form="convex", radius=mm("30"), roll_diameter=mm("10"))

        assert target.size_with(mm("62")) == mm("33.8")


class TestRingBore:
    @given(
        st.sampled_from(["balls", "rods"]), st.integers(150, 900), st.integers(5, 40),
        st.integers(1, 60),
    )  # fmt: skip
    def test_a_rocked_end_touches_the_wall_where_it_is_said_to(
        self, ends: Literal["balls", "rods"], bore: int, end: int, shorter: int
    ) -> None:
        target = RingBoreTarget(
            ref="t", ends=ends, bore=bore * MM, first_end=end * MM,
            shorter_by=shorter * MM // 100, end_radius=0 if ends == "balls" else end * MM // 2,
        )  # fmt: skip
        centres = (target.exact_length() / MM) + (end if ends == "balls" else 2 * end - end)
        orbit = bore / 2 - end / 2
        # Both centres lie on one circle: half the movement is the height of the free one over
        # the diameter through the other.
        cosine = centres / (2 * orbit)
        free = orbit - centres * cosine, centres * float(np.sqrt(1 - cosine**2))

        assert float(np.hypot(*free)) == pytest.approx(orbit, abs=1e-6)
        moved = RingBoreTarget(
            ref="t", ends=ends, bore=bore * MM, first_end=end * MM,
            shorter_by=shorter * MM // 100, end_radius=target.end_radius,
            measured_rock=round(2 * free[1] * MM),
        )  # fmt: skip
        found = moved.size_with(target.exact_length())
        assert found is not None
        assert found / MM == pytest.approx(bore, abs=1e-6)


def without_lead(target: ThreadWiresTarget) -> float:
    """Size over the wires less the correction for the lead, as handbooks print it."""
    return target.exact_length() - target.results(()).helix_correction


class TestThreadWires:
    @pytest.mark.parametrize(
        ("size", "pitch", "wire", "pitch_diameter", "over"),
        [
            ("8", "1.25", 0.721688, 7.188101, 8.270633),
            ("10", "1.5", 0.866025, 9.025721, 10.324760),
            ("12", "1.75", 1.010363, 10.863342, 12.378887),
        ],
    )
    def test_metric_threads_as_published(
        self, size: str, pitch: str, wire: float, pitch_diameter: float, over: float
    ) -> None:
        """Best wires, basic pitch diameters and sizes over wires: a table on codingace.net."""
        target = ThreadWiresTarget(ref="t", pitch=mm(pitch), major_diameter=mm(size))

        assert target.results(()).best_wire_diameter / MM == pytest.approx(wire, abs=1e-6)
        assert target.wanted_size / MM == pytest.approx(pitch_diameter, abs=1e-6)
        assert without_lead(target) / MM == pytest.approx(over, abs=1.5e-6)

    def test_unified_threads_as_published(self) -> None:
        """1/4-20: pitch diameter .2164, wires .0289, .2597 over them (machinecalcs.com).

        7/16-14 by its major diameter with wires of .045: .464 (a shop's text, neme-s.org).
        """
        quarter = ThreadWiresTarget(
            ref="t", threads_per_inch=Decimal(20), pitch_diameter=inch("0.2164"),
            wire_diameter=inch("0.0289"),
        )  # fmt: skip
        larger = ThreadWiresTarget(
            ref="t", threads_per_inch=Decimal(14), major_diameter=inch("0.4375"),
            wire_diameter=inch("0.045"),
        )  # fmt: skip

        assert without_lead(quarter) / QUANTA["in"] == pytest.approx(0.2597, abs=1.1e-4)
        assert without_lead(larger) / QUANTA["in"] == pytest.approx(0.464, abs=5e-4)

    def test_whitworth_constants(self) -> None:
        """E - .9605 P + 3.1657 W, and best wires .5637 P: handbooks, as quoted on the web."""
        target = ThreadWiresTarget(
            ref="t", pitch=MM, pitch_diameter=20 * MM, thread_angle=angle("55")
        )

        assert target.results(()).best_wire_diameter / MM == pytest.approx(0.5637, abs=5e-5)
        over = 20 - 0.960491 + 3.165681 * 0.563691
        assert without_lead(target) / MM == pytest.approx(over, abs=2e-6)

    @pytest.mark.parametrize(
        ("pitch_diameter", "pitch", "lead", "included", "of_best"),
        [
            (9.026, 1.5, 1.5, 60, 1.0),
            (9.026, 1.5, 4.5, 60, 1.0),
            (9.026, 1.5, 1.5, 60, 1.4),
            (7.0, 2.0, 2.0, 55, 0.95),
            (18.0, 4.0, 8.0, 29, 1.0),
            (18.0, 4.0, 4.0, 30, 1.3),
            (4.0, 2.0, 2.0, 29, 0.95),
        ],
    )
    def test_the_correction_is_what_a_search_for_contact_finds(
        self, pitch_diameter: float, pitch: float, lead: float, included: float, of_best: float
    ) -> None:
        """A straight wire against flanks that are straight in the axial plane, within 3 %."""
        half = np.radians(included / 2)
        target = ThreadWiresTarget(
            ref="t", pitch=round(pitch * MM), pitch_diameter=round(pitch_diameter * MM),
            lead=round(lead * MM), thread_angle=round(included * 3600) * 10**9,
            wire_diameter=round(of_best * pitch / 2 / float(np.cos(half)) * MM),
        )  # fmt: skip
        target.requirements()
        found = target.results(())
        wire = found.wire_diameter / MM
        axis = (target.exact_length() / MM - wire) / 2
        # How far the wire at that height stays clear of the flank; it turns until it lies deepest.
        clear = max(
            nearest_point(axis, tilt, half, (pitch_diameter, pitch, lead))
            for tilt in np.arctan(lead / (np.pi * 2 * axis)) * np.linspace(0.9, 1.1, 21)
        )

        off = 2 * (clear - wire / 2) / float(np.sin(half))
        assert -0.002 <= off / (found.helix_correction / MM) <= 0.03


def nearest_point(
    axis: float, tilt: float, half: float, thread: tuple[float, float, float]
) -> float:
    """Distance of a flank from a line that crosses the thread's axis at a height, tilted."""
    pitch_diameter, pitch, lead = thread
    (r, turn), (dr, dturn) = (pitch_diameter / 2, 0.0), (pitch * 0.4, 0.4)
    best = np.inf
    for _ in range(9):
        grid = np.meshgrid(r + np.linspace(-dr, dr, 41), turn + np.linspace(-dturn, dturn, 41))
        rs, turns = grid
        along = pitch / 4 + (rs - pitch_diameter / 2) * np.tan(half) + lead * turns / (2 * np.pi)
        x, y = rs * np.cos(turns) - axis, rs * np.sin(turns)
        shadow = y * np.cos(tilt) + along * np.sin(tilt)
        squares = x * x + y * y + along * along - shadow * shadow
        place = np.unravel_index(int(np.argmin(squares)), squares.shape)
        best, r, turn = float(np.sqrt(squares[place])), float(rs[place]), float(turns[place])
        dr, dturn = dr / 6, dturn / 6
    return best


def reach(height: float, pressure: float, half_space: float) -> float:
    """Radius of a circle on the x axis that touches the flank of a space about it.

    The flank is the path of the end of a string that is unwound from the base circle of a gear
    with the pitch radius 1; the touching circle is found by the nearest of its points.
    """
    base = np.cos(pressure)
    # Where the string's end passes the pitch circle, and how far that is turned.
    at_pitch = np.tan(pressure)
    turned = half_space - (at_pitch - np.arctan(at_pitch))
    low, high, nearest_one = 0.0, 3.0, 0
    away = np.zeros(1)
    for _ in range(8):
        unwound = np.linspace(low, high, 401)
        angle_at = unwound + turned
        x = base * (np.cos(angle_at) + unwound * np.sin(angle_at))
        y = base * (np.sin(angle_at) - unwound * np.cos(angle_at))
        away = np.hypot(x - height, y)
        nearest_one = int(np.argmin(away))
        low, high = unwound[max(nearest_one - 1, 0)], unwound[min(nearest_one + 1, 400)]
    return float(away[nearest_one])


def across_tips(teeth: int, tip: float, half_tip: float) -> float:
    """Largest reach of any tip from the axis, towards one of two flat faces across the pins.

    Spaces lie at whole multiples of the pitch, the second at the multiple most nearly opposite; the
    faces are square to the line between their middles.
    """
    pitch = 2 * np.pi / teeth
    across = (pitch * (teeth // 2) - np.pi) / 2
    middles = pitch * (np.arange(teeth) + 0.5)
    edges = np.linspace(-half_tip, half_tip, 201)
    return float(np.max(tip * np.cos(middles[:, None] + edges[None, :] - across)))


class TestGearPins:
    @given(
        st.integers(3, 90),
        st.floats(0.5, 8),
        st.sampled_from([14.5, 20.0, 25.0]),
        st.floats(0.46, 0.52),
        st.floats(1.65, 1.95),
    )
    @settings(max_examples=40)
    def test_the_pins_touch_both_flanks(
        self, teeth: int, module: float, pressure: float, thick: float, pins: float
    ) -> None:
        target = GearPinsTarget(
            ref="g", number_of_teeth=teeth, module=round(module * MM),
            pressure_angle=angle(str(pressure)), pin_diameter=round(pins * module * MM),
            tooth_thickness=round(thick * np.pi * module * MM),
        )  # fmt: skip
        assume(not any(target.faults()))
        pin, radius = pins * module, teeth * module / 2
        over = target.exact_length() / MM
        # Spaces lie at whole multiples of the pitch; the second is most nearly opposite.
        apart = 2 * np.pi * (teeth // 2) / teeth
        height = (over - pin) / (2 * np.sin(apart / 2))
        half_space = np.pi / teeth - thick * np.pi * module / (2 * radius)

        touching = reach(height / radius, np.radians(pressure), half_space) * radius
        assert touching == pytest.approx(pin / 2, abs=2e-7 * radius)

    @given(st.integers(3, 30), st.floats(0.9, 2.2), st.floats(-0.4, 0.8))
    @settings(max_examples=60)
    def test_pins_that_stand_beyond_the_tips_are_taken(
        self, teeth: int, pin: float, shift: float
    ) -> None:
        """Also where they lie within the tip circle, as with few teeth and an odd number."""
        shifted = Decimal(f"{shift:.3f}")
        target = GearPinsTarget(
            ref="g", number_of_teeth=teeth, module=mm("1"), pin_diameter=round(pin * MM),
            profile_shift=shifted,
        )  # fmt: skip
        reasons = [fault.detail for fault in target.faults() if fault is not None]
        thin = any("thin" in each for each in reasons)
        assume(thin or not reasons)
        tip, base = teeth / 2 + 1 + float(shifted), teeth / 2 * np.cos(np.radians(20))
        # Half the tooth on the pitch circle, and how far its flank turns inward up to the tip.
        half = np.pi / 2 / teeth + 2 * float(shifted) * np.tan(np.radians(20)) / teeth
        pressures = np.arccos(np.array([base / (teeth / 2), base / tip]))
        involutes = np.tan(pressures) - pressures
        reach_of_tips = across_tips(teeth, tip, max(half + involutes[0] - involutes[1], 0.0))
        over = target.exact_length() / MM / 2

        assume(abs(over - reach_of_tips) > 1e-4)
        assert thin == (over < reach_of_tips)

    def test_usual_pins_fit_few_teeth(self) -> None:
        found = {
            teeth: GearPinsTarget(ref="g", number_of_teeth=teeth, module=mm("1"))
            for teeth in range(3, 20)
        }
        assert not [each for target in found.values() for each in target.faults() if each]

    def test_twenty_teeth_of_module_one(self) -> None:
        """Pins of 1.7 mm, 20 degrees: 22.2941 mm, and 1.7245 mm touch at the pitch circle.

        Worked examples of a maker's guide to metric gears, from memory.
        """
        target = GearPinsTarget(ref="g", number_of_teeth=20, module=mm("1"), pin_diameter=mm("1.7"))

        assert target.exact_length() / MM == pytest.approx(22.2941, abs=5.1e-5)
        assert target.results(()).best_pin_diameter / MM == pytest.approx(1.7245, abs=1e-4)

    def test_ten_teeth_of_one_diametral_pitch(self) -> None:
        """Pins of 1.728 and 20 degrees: 12.3445, the table of a handbook, from memory."""
        target = GearPinsTarget(ref="g", number_of_teeth=10, diametral_pitch=Decimal(1))

        assert target.exact_length() / QUANTA["in"] == pytest.approx(12.3445, abs=5.1e-5)

    def test_pins_of_the_best_size_touch_on_the_pitch_circle(self) -> None:
        target = GearPinsTarget(ref="g", number_of_teeth=17, module=mm("3"))
        best = GearPinsTarget(
            ref="g", number_of_teeth=17, module=mm("3"),
            pin_diameter=target.results(()).best_pin_diameter,
        )  # fmt: skip

        assert best.results(()).contact_diameter / MM == pytest.approx(51, abs=1e-7)
