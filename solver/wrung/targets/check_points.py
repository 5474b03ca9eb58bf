"""Check points of a micrometer or caliper: stacks one after another, and the record sheet."""

from collections.abc import Sequence
from fractions import Fraction
from typing import Annotated, ClassVar, Final

from msgspec import Meta, Struct

from wrung.answers import Stack, Unmet
from wrung.instruments.check_points import (
    Instrument,
    permissible_error,
    points_for_pitch,
    series,
)
from wrung.measures import Length, Margin
from wrung.metrology.uncertainty_ratio import uncertainty_ratio
from wrung.targets.base import Name, StackTarget, TargetResult, require, unless
from wrung.targets.built import BuiltLength, built
from wrung.targets.requirement import Requirement
from wrung.targets.tolerance_ratios import (
    Judged,
    TestUncertaintyRatio,
    judged,
    ratio_remarks,
    shown_ratio,
)
from wrung.texts import Phrase, phrase

MOST_POINTS: Final = 50
COLUMNS: Final = tuple(
    phrase(key)
    for key in (
        "record.point",
        "record.stack",
        "record.margin",
        "record.reading",
        "record.error",
        "record.permissible",
        "record.passed",
    )
)


class CheckPointsTarget(StackTarget, frozen=True, kw_only=True, tag="check_points"):
    """Stacks for checking an instrument, one after another, so that blocks are used again.

    State the points by ``series``, by the ``pitch`` of the thread, or one by one.

    In Python, lengths are in quanta of 0.01 nm, see `wrung.mm` and `wrung.inch`.

    >>> target = CheckPointsTarget(ref="mic-1", points=(mm("2.5"), mm("5.1")))
    >>> [to_text(each.length, "mm") for each in target.requirements()]
    ['2.5', '5.1']
    """

    cautions: ClassVar[tuple[str, ...]] = ("caution.no_spindle_force", "caution.square_on")

    instrument: Annotated[
        Instrument,
        Meta(
            description="Selects the limits of error: `micrometer` DIN 863-1, "
            "`vernier_caliper` (0.1 or 0.05 mm) and `fine_caliper` (0.02 mm, "
            "digital) DIN 862."
        ),
    ] = "micrometer"
    series: Annotated[
        Name | None,
        Meta(
            description="`metric-0.5`, `inch-0.025` or `caliper-metric`.",
            examples=["metric-0.5"],
        ),
    ] = None
    pitch: Annotated[
        Length | None, Meta(description="Pitch of a micrometer's thread, with `travel`.")
    ] = None
    travel: Annotated[
        Length | None, Meta(description="Length of the measuring range: upper end less lower end.")
    ] = None
    points: Annotated[
        tuple[Length, ...], Meta(max_length=MOST_POINTS, description="Your own list of lengths.")
    ] = ()
    range_from: Annotated[
        Length,
        Meta(
            description="Lower end of the measuring range; added to the points of a series or "
            "pitch, and itself the first point if it is not 0."
        ),
    ] = 0

    def requirements(self) -> tuple[Requirement, ...]:
        """``point_1`` and so on, in sequence; before it ``lower_end`` of a higher range."""
        return tuple(
            self.stack(length, role=role, point=point)
            for point, (role, length) in enumerate(self._lengths())
        )

    def results(self, stacks: Sequence[Stack], unmet: Sequence[Unmet] = ()) -> "CheckPointsResult":
        """A row for each point."""
        del unmet
        # Some standards limit the error by the end of the range, not by the point.
        end = self.range_from + self._travel()
        rows = tuple(
            CheckPoint(
                role=role,
                point=length,
                stack=built(stacks, self.name_of(role)),
                permissible_error=permissible_error(
                    self.instrument, length, range_start=self.range_from, range_end=end
                ),
            )
            for role, length in (*self._closed(), *self._lengths())
        )
        checked = _judged(rows)
        return CheckPointsResult(
            target=self.ref,
            remarks=(
                *ratio_remarks(min(checked, key=_least, default=None)),
                *self._unchecked(),
            ),
            columns=COLUMNS,
            rows=rows,
            test_uncertainty_ratio=min(filter(None, map(shown_ratio, checked)), default=None),
        )

    def _unchecked(self) -> tuple[Phrase, ...]:
        """A remark if the points are those of a series that was not compared with print."""
        known = self.series is None or series(self.series).checked != "no"
        return () if known else (phrase("check.from_memory"),)

    def _lengths(self) -> tuple[tuple[str, int], ...]:
        points = tuple((f"point_{k}", length) for k, length in enumerate(self._points(), 1))
        # An instrument that does not start at 0 must be set before its points mean anything.
        if self.range_from > 0 and not self.points:
            return (("lower_end", self.range_from), *points)
        return points

    def _closed(self) -> tuple[tuple[str, int], ...]:
        """The zero of an instrument that starts there: its faces are closed, without a stack."""
        starts_there = self.range_from == 0 and not self.points
        return (("zero", 0),) if starts_there else ()

    def _points(self) -> tuple[int, ...]:
        self._check()
        if self.points:
            return self.points
        if self.series is not None:
            return tuple(self.range_from + point for point in series(self.series).points)
        pitch, travel = self.pitch or 0, self.travel or 0
        return tuple(self.range_from + point for point in points_for_pitch(pitch, travel))

    def _travel(self) -> int:
        if self.series is not None:
            return series(self.series).travel
        return self.travel or max(self._points(), default=0) - self.range_from

    def _check(self) -> None:
        # With two ways given, neither could be said to win.
        ways = (self.series is not None) + (self.pitch is not None) + bool(self.points)
        require(unless(ways == 1, "series", "give one of series, pitch and points"))
        require(
            unless(self.range_from >= 0, "range_from", "must not be negative"),
            *(
                unless(point > 0, f"points/{k}", "must be greater than zero")
                for k, point in enumerate(self.points)
            ),
        )
        if self.pitch is not None:
            require(
                unless(self.pitch > 0, "pitch", "must be greater than zero"),
                unless(self.travel is not None, "travel", "points by the pitch need the travel"),
                unless(
                    # With fewer turns, two tenths of the travel would fall into the same turn.
                    self.travel is None or self.travel >= 10 * self.pitch,
                    "travel",
                    "must be at least ten turns of the thread",
                ),
            )
        if self.series is not None:
            series(self.series)


class CheckPoint(Struct, frozen=True, kw_only=True):
    """A row of the record sheet."""

    role: Annotated[str, Meta(description="The part that the stack plays: which point it is.")]
    point: Annotated[Length, Meta(description="Nominal check point.")]
    stack: Annotated[
        BuiltLength | None,
        Meta(
            description="The stack as built, if it was; null at point 0, where the measuring faces "
            "are closed without one."
        ),
    ]
    permissible_error: Annotated[
        Margin | None,
        Meta(
            description="Limit of the error of indication, plus and minus, where a standard "
            "gives one."
        ),
    ]


class CheckPointsResult(TargetResult, frozen=True, kw_only=True, tag="check_points"):
    """A record sheet for an instrument, to be filled in."""

    columns: Annotated[tuple[Phrase, ...], Meta(description="Headings of the sheet's columns.")]
    rows: Annotated[tuple[CheckPoint, ...], Meta(description="One for each point, in order.")]
    test_uncertainty_ratio: TestUncertaintyRatio


def _judged(rows: Sequence[CheckPoint]) -> tuple[Judged, ...]:
    """What each permissible error is compared with, where there are both."""
    # An error is allowed to either side, so that the tolerance is twice as wide.
    found = (judged(2 * (r.permissible_error or 0), [r.stack]) for r in rows if r.stack)
    return tuple(each for each in found if each is not None)


def _least(found: Judged) -> Fraction:
    """The smaller of its ratios, by the worst case and by the uncertainty."""
    off = max(found.worst_case, found.uncertainty or 0)
    return uncertainty_ratio(found.width, off) or Fraction(found.width)
