"""Blocks that were due for calibration before the day of use."""

from datetime import UTC, date, datetime

import pytest

from wrung.blocks import Block
from wrung.calibrations import Calibration
from wrung.lengths import mm
from wrung.metrology.overdue import Overdue, day_of_use, sort_by_due
from wrung.targets.requirement import Requirement

DAY = date(2026, 6, 1)


def block(name: str, due: date | None) -> Block:
    return Block(id=name, nominal=mm("10"), grade="1", calibration=Calibration(due_on=due))


FRESH = block("fresh", date(2026, 6, 1))
STALE = block("stale", date(2026, 5, 31))
UNDATED = block("undated", None)
BARE = Block(id="bare", nominal=mm("10"), grade="1")
SHELF = (FRESH, STALE, UNDATED, BARE)


def test_overdue_blocks_are_left_out_and_named() -> None:
    found = sort_by_due(SHELF, DAY)

    assert found.usable == (FRESH, UNDATED, BARE)
    assert found.left_out == (Overdue(id="stale", due_on=date(2026, 5, 31)),)
    assert found.allowed == ()


def test_overdue_blocks_are_kept_and_named_on_request() -> None:
    found = sort_by_due(SHELF, DAY, allow_overdue=True)

    assert found.usable == SHELF
    assert found.left_out == ()
    assert [each.id for each in found.allowed] == ["stale"]


def at(text: str) -> datetime:
    return datetime.fromisoformat(text)


NOW = datetime(2026, 6, 1, 12, 0, tzinfo=UTC)


@pytest.mark.parametrize(
    ("starts", "ends", "expected"),
    [
        (None, None, date(2026, 6, 1)),
        ("2026-06-03T08:00:00Z", None, date(2026, 6, 3)),
        ("2026-06-03T08:00:00Z", "2026-06-20T08:00:00Z", date(2026, 6, 20)),
        ("2020-01-01T08:00:00Z", "2020-01-02T08:00:00Z", date(2026, 6, 1)),
        (None, "9999-12-31T23:59:59-12:00", date(9999, 12, 31)),
    ],
)
def test_the_last_day_counts(starts: str | None, ends: str | None, expected: date) -> None:
    requirement = Requirement(
        target="op1",
        length=mm("10"),
        needed_from=at(starts) if starts else None,
        needed_until=at(ends) if ends else None,
    )

    assert day_of_use([requirement], NOW) == expected
