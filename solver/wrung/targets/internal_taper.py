"""A taper bore measured by two balls: stacks as high as they protrude, or as deep as they lie.

With half the included angle a, the centre of a ball of radius R lies at the depth
(D/2 - R/cos a) / tan a below the face where the bore has the diameter D, so that
sin a = (R - r) / c with c the distance of both centres. Standard in every textbook of workshop
metrology, such as Carvill, Mechanical Engineer's Data Handbook, 7.2.2.
"""

from collections.abc import Sequence
from decimal import Decimal
from typing import Annotated, ClassVar

from msgspec import Meta

from wrung.angles import DEGREE, from_radians
from wrung.answers import Stack, Unmet
from wrung.errors import InputError, greater, not_negative, positive, require, unless
from wrung.measures import Difference, Length, Margin
from wrung.real import asin, cos, in_reals, nearest, sin, tan
from wrung.targets.base import RoundingStep
from wrung.targets.built import built, in_use, temperature_remarks
from wrung.targets.contributions import (
    AngleBudget,
    angle_budget,
    of_expanded,
    of_stack,
    seconds_a_micrometre,
    uncertainty_of,
)
from wrung.targets.measured_taper import MeasuredTaperResult, MeasuredTaperTarget
from wrung.targets.requirement import Requirement
from wrung.targets.steps import to_step
from wrung.targets.taper import found_taper, taper_remarks

# Near zero the balls' depths grow with 1 / tan a, without bound.
_NARROWEST = DEGREE // 60


class InternalTaperTarget(MeasuredTaperTarget, frozen=True, kw_only=True, tag="internal_taper"):
    """Stacks for the tops of two balls in a taper bore, above its face or below it.

    A ball that protrudes is compared with its stack on the face; for one that lies deeper, the
    stack sets the depth gauge.

    In Python, lengths are in quanta of 0.01 nm, see `wrung.mm` and `wrung.inch`,
    and angles in quanta of 1e-9 seconds of arc, see `wrung.angle`.

    >>> target = InternalTaperTarget(ref="bore", included_angle=angle("10"), large_end=mm("30"),
    ...     large_ball=mm("26"), small_ball=mm("18"), step=mm("0.001"))
    >>> [to_text(each.length, "mm") for each in target.requirements()]
    ['9.293', '59.187']
    """

    cautions: ClassVar[tuple[str, ...]] = ("caution.burr",)
    stands: ClassVar[bool] = True

    large_end: Annotated[Length, Meta(description="Diameter of the bore at its face.")]
    large_ball: Annotated[Length, Meta(description="Diameter of the larger ball.")]
    small_ball: Annotated[Length, Meta(description="Diameter of the smaller ball.")]
    bore_depth: Annotated[
        Length | None, Meta(description="Depth of the bore, to check that the balls touch it.")
    ] = None
    measured_large_ball_depth: Annotated[
        Difference | None,
        Meta(description="Measured depth of the larger ball's top, negative above the face."),
    ] = None
    measured_small_ball_depth: Annotated[
        Difference | None, Meta(description="Measured depth of the smaller ball's top, likewise.")
    ] = None
    depth_uncertainty: Annotated[
        Margin,
        uncertainty_of("comparing a ball's top with its stack"),
    ] = 0
    ball_uncertainty: Annotated[Margin, uncertainty_of("the diameter of each ball")] = 0
    step: RoundingStep = None

    def requirements(self) -> tuple[Requirement, ...]:
        """``large_ball`` and ``small_ball``, less a ball level with the face."""
        self._check()
        return tuple(
            self.stack(length, role=role)
            for role, depth in self._tops()
            if (length := to_step(abs(depth), self.step)) > 0
        )

    @in_reals
    def results(
        self, stacks: Sequence[Stack], _unmet: Sequence[Unmet] = ()
    ) -> "InternalTaperResult":
        """Where the balls lie, and the angle from what was measured."""
        (large, large_depth), (small, small_depth) = self._tops()
        angle = self._measured_angle()
        distance = self._centre(self.small_ball) - self._centre(self.large_ball)
        return InternalTaperResult(
            target=self.ref,
            remarks=(*temperature_remarks(stacks), *taper_remarks(self.taper)),
            taper=found_taper(self.wanted_angle, self.taper),
            stacks=tuple(s for role in (large, small) if (s := built(stacks, self.name_of(role)))),
            large_ball_depth=large_depth,
            small_ball_depth=small_depth,
            centre_distance=distance,
            # By the slope of 2 asin((R - r) / c), which is 2 tan a / c; its sign is left out.
            sensitivity=seconds_a_micrometre(2 * tan(self.half_of()) / distance),
            measured_angle=angle,
            angle_error=None if angle is None else angle - self.wanted_angle,
            angle_budget=self._budget(stacks, angle),
        )

    def _tops(self) -> tuple[tuple[str, int], tuple[str, int]]:
        """Depth of each ball's top below the face."""
        return (
            ("large_ball", self._centre(self.large_ball) - self.large_ball // 2),
            ("small_ball", self._centre(self.small_ball) - self.small_ball // 2),
        )

    @in_reals
    def _centre(self, ball: int) -> int:
        """Depth of a ball's centre below the face."""
        half = self.half_of()
        return nearest((Decimal(self.large_end) - ball / cos(half)) / 2 / tan(half))

    @in_reals
    def _contact(self, ball: int) -> int:
        """Depth of the circle on which a ball touches."""
        return self._centre(ball) + nearest(Decimal(ball) / 2 * sin(self.half_of()))

    @in_reals
    def _measured_angle(self) -> int | None:
        if self.measured_large_ball_depth is None or self.measured_small_ball_depth is None:
            return None
        # Tops are what can be measured; the centres lie a radius below them.
        tops = self.measured_small_ball_depth - self.measured_large_ball_depth
        distance = tops + Decimal(self.small_ball - self.large_ball) / 2
        radii = Decimal(self.large_ball - self.small_ball) / 2
        # The sine of half the angle would be 1 or more, or negative: no taper has one.
        if distance <= radii:
            detail = "the balls lie too close together for any taper"
            raise InputError.at("/measured_small_ball_depth", detail)
        return from_radians(2 * asin(radii / distance))

    @in_reals
    def _budget(self, stacks: Sequence[Stack], angle: int | None) -> AngleBudget | None:
        used = {each.role: in_use(stacks, self.name_of(each.role)) for each in self.requirements()}
        found = {role: of_stack(stack) for role, stack in used.items() if stack}
        if not used or len(found) < len(used):
            return None
        half = self.half_of(angle)
        radii = Decimal(self.large_ball - self.small_ball) / 2
        distance = radii / sin(half)
        ball, depth = of_expanded(self.ball_uncertainty), of_expanded(self.depth_uncertainty)
        # A top is compared with its stack; one that is level with the face has none.
        large, small = (
            (depth**2 + found.get(role, Decimal(0)) ** 2).sqrt()
            for role in ("large_ball", "small_ball")
        )
        # From sin a = R / (T - R), with R half the difference of the balls, T that of their tops.
        by_ball = (1 + sin(half)) / (distance * cos(half))
        by_depth = 2 * tan(half) / distance
        return angle_budget(
            (
                ("measured_large_ball_depth", large, by_depth),
                ("measured_small_ball_depth", small, -by_depth),
                ("large_ball", ball, by_ball),
                ("small_ball", ball, -by_ball),
            )
        )

    def _check(self) -> None:
        self.require_angle(_NARROWEST, "must be from 1 minute to less than 120 degrees")
        require(
            *positive(self, "small_ball"),
            greater(self, "large_ball", than="small_ball"),
            *positive(self, "large_end"),
            *not_negative(self, "depth_uncertainty", "ball_uncertainty"),
        )
        depth = self.bore_depth
        require(
            *(
                # Where it touches counts, not its centre: this may lie above the face.
                unless(self._contact(getattr(self, member)) > 0, member, _TOO_LARGE)
                for member in ("large_ball", "small_ball")
            ),
            *(
                unless(
                    depth is None or self._contact(getattr(self, member)) <= depth,
                    member,
                    "is so small that it would fall through without touching the bore",
                )
                for member in ("large_ball", "small_ball")
            ),
        )
        require(*self.both_or_none("measured_large_ball_depth", "measured_small_ball_depth"))
        self._measured_angle()


_TOO_LARGE = "is so large that it would rest on the edge of the bore, not in the taper"


class InternalTaperResult(MeasuredTaperResult, frozen=True, kw_only=True, tag="internal_taper"):
    """Where two balls lie in a taper bore, and the taper that was measured."""

    large_ball_depth: Annotated[
        Difference, Meta(description="Depth of the larger ball's top, negative above the face.")
    ]
    small_ball_depth: Annotated[
        Difference, Meta(description="Depth of the smaller ball's top, likewise.")
    ]
    centre_distance: Annotated[
        Length, Meta(description="Distance between the centres of the balls.")
    ]
