"""Check points of an instrument: stacks one after another, and the record, empty or filled in."""

from collections.abc import Iterator, Sequence
from decimal import Decimal
from itertools import zip_longest
from typing import Annotated, ClassVar, Final

from msgspec import Meta

from wrung.answers import Stack, Unmet
from wrung.errors import not_negative, not_positive, positive, require, unless
from wrung.instruments.check_points import (
    InstrumentKind,
    is_limited,
    permissible_error,
    permissible_span,
    points_for_pitch,
    series,
    standard_of,
)
from wrung.measures import Difference, Length, Margin, Measure, Ratio
from wrung.metrology.conditions import Conditions
from wrung.metrology.purpose import MOST_MULTIPLE
from wrung.targets.base import Name, StackTarget
from wrung.targets.built import built, in_use
from wrung.targets.check_points_result import (
    HEADINGS,
    CheckPoint,
    CheckPointsResult,
    judged_rows,
    least_ratio,
    passed,
)
from wrung.targets.check_record import with_error
from wrung.targets.requirement import Requirement
from wrung.targets.tolerance_ratios import (
    ratio_remarks,
    shown_ratio,
)
from wrung.texts import Phrase, figure, phrase

MOST_POINTS: Final = 50
_CLOSED: Final = ("zero", 0)
"""The zero of an instrument that starts there: its faces are closed, without a stack."""


class CheckPointsTarget(StackTarget, frozen=True, kw_only=True, tag="check_points"):
    """Stacks for checking an instrument, one after another, so that blocks are used again.

    State the points by ``series``, by the ``pitch`` of the thread, or one by one.

    In Python, lengths are in quanta of 0.01 nm, see `wrung.mm` and `wrung.inch`.

    >>> target = CheckPointsTarget(ref="mic-1", points=(mm("2.5"), mm("5.1")))
    >>> [to_text(each.length, "mm") for each in target.requirements()]
    ['2.5', '5.1']
    """

    cautions: ClassVar[tuple[str, ...]] = ("caution.no_spindle_force", "caution.square_on")
    takes_step: ClassVar[bool] = True

    instrument: Annotated[
        InstrumentKind,
        Meta(
            description="Selects the limits of error: `micrometer` DIN 863-1 or, for ranges of "
            "1 in to 9 in, ASME B89.1.13, "
            "`vernier_caliper` (0.1 or 0.05 mm) and `fine_caliper` (0.02 mm, "
            "digital) DIN 862, `dial_indicator` DIN 878 (of the span of its errors); none for "
            "`depth_gauge` and `other`."
        ),
    ] = "micrometer"
    series: Annotated[
        Name | None,
        Meta(
            description="`metric-0.5`, `inch-0.025`, `caliper-metric`, `caliper-metric-6`, "
            "`caliper-iso-13385` or `caliper-inch`.",
            examples=["metric-0.5"],
        ),
    ] = None
    pitch: Annotated[
        Length | None,
        Meta(
            description="Pitch of a micrometer's thread, or the travel of one turn of an "
            "indicator's pointer, with `travel`."
        ),
    ] = None
    travel: Annotated[
        Length | None, Meta(description="Length of the measuring range: upper end less lower end.")
    ] = None
    points: Annotated[
        tuple[Length, ...],
        Meta(max_length=MOST_POINTS, description="Your own list of lengths."),
    ] = ()
    range_from: Annotated[
        Length,
        Meta(
            description="Lower end of the measuring range; added to the points of a series or "
            "pitch, and itself the first point if it is not 0. Of a `dial_indicator`, the length "
            "of the stack that it is set to zero on, also before points of your own."
        ),
    ] = 0
    readings: Annotated[
        tuple[Difference, ...],
        Meta(
            max_length=MOST_POINTS + 1,
            description="What the instrument showed, one for each row of the record in its order, "
            "zero or lower end first. The rows then have errors, uncertainties and statements.",
        ),
    ] = ()
    permissible_error: Annotated[
        Margin | None,
        Meta(
            description="Limit of the error of indication, plus and minus, in place of the "
            "standard's: as the maker states it, or you need it (ISO 3611, ISO 13385-1)."
        ),
    ] = None
    resolution: Annotated[
        Margin | None,
        Meta(description="Digital step, or the smallest part of an interval that is estimated."),
    ] = None
    repeatability: Annotated[
        Margin | None, Meta(description="Standard deviation of repeated readings.")
    ] = None
    mechanical_effects: Annotated[
        Margin | None,
        Meta(
            description="Limit of what the instrument's form, Abbe's offset and the measuring "
            "force may do to a reading."
        ),
    ] = None
    guard_multiple: Annotated[
        Ratio | None,
        Meta(
            description="Guard band over the expanded uncertainty of the error, from -10 to 10; "
            "0, simple acceptance, if left out."
        ),
    ] = None

    @property
    def cautions_in_use(self) -> tuple[str, ...]:
        """Of a stack on the plate or between the faces of an instrument, and of a thread."""
        if self.instrument in ("depth_gauge", "dial_indicator"):
            return ("caution.standing",)
        return self.cautions if self.instrument == "micrometer" else ("caution.square_on",)

    @property
    def takes_step_in_use(self) -> bool:
        """The base of a depth gauge lies across its stacks."""
        return self.instrument != "depth_gauge"

    @property
    def standard(self) -> str | None:
        """The standard that the limits of error are from; None without any, or with your own."""
        if self.permissible_error is not None:
            return None
        start, end = self.range_from, self.range_from + self._travel()
        return standard_of(self.instrument, range_start=start, range_end=end)

    def requirements(self) -> tuple[Requirement, ...]:
        """``point_1`` and so on, in sequence; before it ``lower_end`` of a higher range."""
        rows = self._lengths()
        detail = f"must have one for each row of the record, {len(rows)} in all"
        require(unless(len(self.readings) in (0, len(rows)), "readings", detail))
        stacks = [row for row in rows if row != _CLOSED]
        return tuple(
            self.stack(length, role=role, point=point)
            for point, (role, length) in enumerate(stacks)
        )

    def in_use(self, conditions: Conditions) -> Conditions:
        """The conditions; where readings are judged, with the instrument as the part."""
        return conditions.with_part() if self.readings else conditions

    def results(self, stacks: Sequence[Stack], _unmet: Sequence[Unmet] = ()) -> CheckPointsResult:
        """A row for each point."""
        rows = tuple(self._rows(stacks))
        checked = judged_rows(rows)
        errors = [row.error for row in rows if row.error is not None]
        # Of some points only, a span says nothing.
        span = max(errors) - min(errors) if errors and len(errors) == len(rows) else None
        permissible = permissible_span(self.instrument, self._travel())
        return CheckPointsResult(
            target=self.ref,
            remarks=(
                *ratio_remarks(min(checked, key=least_ratio, default=None)),
                *self._unchecked(),
            ),
            columns=HEADINGS,
            rows=rows,
            test_uncertainty_ratio=min(filter(None, map(shown_ratio, checked)), default=None),
            error_span=span,
            permissible_span=permissible,
            passed=passed(rows, span, permissible),
        )

    def _rows(self, stacks: Sequence[Stack]) -> Iterator[CheckPoint]:
        # Some standards limit the error by the end of the range, not by the point.
        end = self.range_from + self._travel()
        for (role, length), reading in zip_longest(self._lengths(), self.readings):
            permissible = permissible_error(
                self.instrument, length, range_start=self.range_from, range_end=end
            )
            limit = permissible if self.permissible_error is None else self.permissible_error
            row = CheckPoint(
                role=role,
                point=length,
                stack=built(stacks, self.name_of(role)),
                permissible_error=limit,
                reading=reading,
                error=None,
                expanded_uncertainty=None,
                conformity_probability=None,
                statement=None,
            )
            yield row if reading is None else self._with_error(row, stacks)

    def _with_error(self, row: CheckPoint, stacks: Sequence[Stack]) -> CheckPoint:
        names = [] if row.role == _CLOSED[0] else [row.role]
        if self._zeroed_on_stack:
            # The travel from where it was set to zero is what an indicator shows.
            names.append("lower_end")
        there = [found for name in names if (found := in_use(stacks, self.name_of(name)))]
        if len(there) < len(names):
            return row
        return with_error(
            row,
            # At its own zero an indicator shows no travel, however long the stack is.
            () if names == ["lower_end", "lower_end"] else tuple(there),
            variance=self._variance,
            guard_multiple=self.guard_multiple or Decimal(0),
        )

    @property
    def _variance(self) -> float:
        """Of a reading: half a step and the mechanical effects are limits of rectangles."""
        resolution, effects = self.resolution or 0, self.mechanical_effects or 0
        return resolution**2 / 12 + (self.repeatability or 0) ** 2 + effects**2 / 3

    @property
    def _zeroed_on_stack(self) -> bool:
        return self.instrument == "dial_indicator" and self.range_from > 0

    def _unchecked(self) -> tuple[Phrase, ...]:
        """Remarks on what was not compared with print, and on what is missing."""
        known = self.series is None or series(self.series).checked != "no"
        spans = permissible_span(self.instrument, self._travel()) is not None
        return (
            *(() if known else (phrase("check.from_memory"),)),
            *((phrase("check.span_from_memory"),) if spans else ()),
            *((phrase("check.no_resolution"),) if self.readings and not self.resolution else ()),
            *self._unlimited(),
        )

    def _unlimited(self) -> Iterator[Phrase]:
        """A remark where the standard has limits, but none for this measuring range.

        Your own points may end short of it; where it ends is then not known, as there are also
        instruments of other ranges than the standard's.
        """
        if self.permissible_error is None and self.standard is None and is_limited(self.instrument):
            start, end = self.range_from, self.range_from + self._travel()
            yield phrase(
                "check.no_limits",
                figure("start", start, Measure.LENGTH, "stated"),
                figure("end", end, Measure.LENGTH, "stated"),
            )

    def _lengths(self) -> tuple[tuple[str, int], ...]:
        """The role of each row with its length."""
        points = tuple((f"point_{k}", length) for k, length in enumerate(self._points(), 1))
        # An instrument that does not start at 0 must be set before its points mean anything.
        if self.range_from > 0 and (not self.points or self._zeroed_on_stack):
            return (("lower_end", self.range_from), *points)
        return points if self.range_from or self.points else (_CLOSED, *points)

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
            *not_negative(self, "range_from"),
            *not_positive({f"/points/{k}": point for k, point in enumerate(self.points)}),
        )
        if self.pitch is not None:
            require(
                *positive(self, "pitch"),
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
        self._check_readings()

    def _check_readings(self) -> None:
        multiple = self.guard_multiple or Decimal(0)
        require(
            *positive(self, "permissible_error"),
            unless(abs(multiple) <= MOST_MULTIPLE, "guard_multiple", "must be from -10 to 10"),
            *not_negative(self, "resolution", "repeatability", "mechanical_effects"),
        )
