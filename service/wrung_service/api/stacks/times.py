"""Reads moments."""

from datetime import datetime

from wrung_service.api.faults import Faults, Path, pointer


def read_time(text: str | None, at: Path, faults: Faults) -> datetime | None:
    """A moment with its offset from UTC."""
    if text is None:
        return None
    try:
        # RFC 3339 also allows a small t and z, and Python no small z.
        return datetime.fromisoformat(text.upper())
    except ValueError:
        # The schema allows 31 February and leap seconds; the calendar here does not.
        faults.meaningless(pointer(at), "is not a time in the calendar, or is a leap second")
        return None
