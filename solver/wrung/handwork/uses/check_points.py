"""Points of an instrument: what it may show on each stack."""

from wrung.handwork.uses.use import Uses
from wrung.measures import Measure
from wrung.targets.check_points import CheckPoint, CheckPointsResult
from wrung.texts import Phrase, figure, phrase


def check_points(result: CheckPointsResult) -> Uses:
    """For each point the readings to accept; its zero is set before the first one that is built."""
    closed = next((row for row in result.rows if row.point == 0), None)
    for row in result.rows:
        if row.stack is None:
            continue
        if closed is not None:
            yield row.role, _closed(closed)
            closed = None
        yield row.role, _point(row, row.stack.length)


def _closed(row: CheckPoint) -> Phrase:
    if row.permissible_error is None:
        return phrase("use.zero_closed")
    permissible = figure("permissible", row.permissible_error, Measure.MARGIN)
    return phrase("use.zero_closed_within", permissible)


def _point(row: CheckPoint, built: int) -> Phrase:
    length = figure("length", built, Measure.LENGTH)
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
