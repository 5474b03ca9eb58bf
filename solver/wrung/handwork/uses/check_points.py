"""Points of an instrument: what it may show on each stack."""

from wrung.handwork.uses.use import Uses
from wrung.measures import Measure
from wrung.targets import CheckPointsTarget
from wrung.targets.check_points_result import CheckPoint, CheckPointsResult
from wrung.texts import Phrase, figure, phrase


def check_points(target: CheckPointsTarget, result: CheckPointsResult) -> Uses:
    """For each point the readings to accept; its zero is set before the first one that is built."""
    closed = next((row for row in result.rows if row.point == 0), None)
    zeros = (row.stack.length for row in result.rows if row.stack and row.role == "lower_end")
    zero = next(zeros, target.range_from)
    started = False
    for row in result.rows:
        if row.stack is None:
            continue
        if not started:
            if closed is not None:
                yield row.role, _closed(target, closed)
            if target.instrument == "depth_gauge":
                yield row.role, phrase("use.depth_gauge")
            started = True
        yield row.role, _point(target, row, row.stack.length, zero)


def _closed(target: CheckPointsTarget, row: CheckPoint) -> Phrase:
    if target.instrument == "depth_gauge":
        return phrase("use.depth_zero")
    if target.instrument == "dial_indicator":
        return phrase("use.indicator_plate")
    if row.permissible_error is None:
        return phrase("use.zero_closed")
    permissible = figure("permissible", row.permissible_error, Measure.MARGIN)
    return phrase("use.zero_closed_within", permissible)


def _point(target: CheckPointsTarget, row: CheckPoint, built: int, zero: int) -> Phrase:
    length = figure("length", built, Measure.LENGTH)
    if target.instrument == "dial_indicator":
        if row.role == "lower_end":
            return phrase("use.indicator_zero")
        return phrase("use.indicator_point", figure("travel", built - zero, Measure.LENGTH))
    # A range that does not start at 0 is set at its lower end.
    if row.role == "lower_end":
        return phrase("use.set_on_stack", length)
    if row.permissible_error is None:
        return phrase("use.point", length)
    return phrase(
        "use.point_within",
        length,
        figure("permissible", row.permissible_error, Measure.MARGIN),
        figure("lowest", built - row.permissible_error, Measure.LENGTH),
        figure("highest", built + row.permissible_error, Measure.LENGTH),
    )
