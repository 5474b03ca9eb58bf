"""Reads moments."""

from datetime import UTC, datetime
from typing import Final

from wrung_service.api.faults import Faults, Path, pointer

# Far enough from the ends of the calendar for every offset, time zone and pause.
_FIRST: Final = datetime(1900, 1, 1, tzinfo=UTC)
_LAST: Final = datetime(9000, 1, 1, tzinfo=UTC)
WRONG_TIME: Final = (
    "is not a time in the calendar, is a leap second, or is not in the years 1900 to 8999"
)


def moment_of(text: str) -> datetime:
    """A moment with its offset from UTC (RFC 3339).

    Raises:
        ValueError: it is none, or is further away than anything can be needed.
    """
    # RFC 3339 also allows a small t and z, and Python no small z.
    moment = datetime.fromisoformat(text.upper())
    if moment.tzinfo is None or not _FIRST <= moment < _LAST:
        raise ValueError(text)
    return moment


def read_time(text: str | None, at: Path, faults: Faults) -> datetime | None:
    """A moment with its offset from UTC."""
    if text is None:
        return None
    try:
        return moment_of(text)
    except ValueError:
        # The schema allows 31 February and leap seconds; the calendar here does not.
        faults.meaningless(pointer(at), WRONG_TIME)
        return None
