"""Sizes by pins, rolls, balls and wires against plane geometry in numpy and published figures.

The geometry is done by distances of points, lines and circles, not by the formulas under test.
"""

from typing import Literal

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wrung.angles import MINUTE
from wrung.lengths import QUANTA, mm
from wrung.targets import RadiusGaugeTarget, RingBoreTarget, VBlockTarget

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
