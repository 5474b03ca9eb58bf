"""Points of an instrument: what it may show on each stack."""

from typing import Final

from wrung.handwork.uses.use import Uses
from wrung.lengths import Unit, inch, mm
from wrung.measures import Measure
from wrung.targets import CheckPointsTarget
from wrung.targets.check_points_result import CheckPoint, CheckPointsResult
from wrung.texts import Phrase, figure, phrase

_READABLE: Final[dict[Unit, int]] = {"mm": mm("0.0001"), "in": inch("0.00001")}
"""Least steps that instruments show; for those whose resolution is not said."""


def check_points(result: CheckPointsResult, target: CheckPointsTarget, unit: Unit) -> Uses:
    """For each point the readings to accept; its zero is set before the first one that is built."""
    closed = next((row for row in result.rows if row.point == 0), None)
    zeros = (row.stack.length for row in result.rows if row.stack and row.role == "lower_end")
    zero = next(zeros, target.range_from)
    step = target.resolution or _READABLE[unit]
    started = False
    for row in result.rows:
        if row.stack is None:
            continue
        if not started:
            if closed is not None or _zeroed_on_plate(target):
                yield row.role, _zero(target, closed)
            if target.instrument == "depth_gauge":
                yield row.role, phrase("use.depth_gauge")
            started = True
        yield row.role, _point(target, row, row.stack.length, zero, step)


def _zeroed_on_plate(target: CheckPointsTarget) -> bool:
    """Also for points of your own, which have no row for zero."""
    return target.instrument in ("depth_gauge", "dial_indicator") and not target.range_from


def _zero(target: CheckPointsTarget, row: CheckPoint | None) -> Phrase:
    if target.instrument == "depth_gauge":
        return phrase("use.depth_zero")
    if target.instrument == "dial_indicator":
        return phrase("use.indicator_plate")
    if row is None or row.permissible_error is None:
        return phrase("use.zero_closed")
    permissible = figure("permissible", row.permissible_error, Measure.MARGIN, "most")
    return phrase("use.zero_closed_within", permissible)


def _point(target: CheckPointsTarget, row: CheckPoint, built: int, zero: int, step: int) -> Phrase:
    length = figure("length", built, Measure.LENGTH)
    if target.instrument == "dial_indicator":
        if row.role == "lower_end":
            return phrase("use.indicator_zero")
        return phrase("use.indicator_point", figure("travel", built - zero, Measure.LENGTH))
    # A range that does not start at 0 is set at its lower end.
    if row.role == "lower_end":
        return phrase("use.set_on_stack", length)
    # What a guard band leaves depends on the uncertainty of the reading, which is not known yet.
    if row.permissible_error is None or target.guard_multiple:
        return phrase("use.point", length)
    lowest, highest = _readings(built, row.permissible_error, step)
    return phrase(
        "use.point_within",
        length,
        figure("permissible", row.permissible_error, Measure.MARGIN, "most"),
        figure("lowest", lowest, Measure.LENGTH, "least"),
        figure("highest", highest, Measure.LENGTH, "most"),
    )


def _readings(built: int, permissible: int, step: int) -> tuple[int, int]:
    """The lowest and the highest reading within the limit, in whole steps."""
    # Inward: what cannot be read off is of no use, and what is beyond the limit is none.
    lowest = -((permissible - built) // step) * step
    highest = (built + permissible) // step * step
    return (lowest, highest) if lowest <= highest else (built - permissible, built + permissible)
