"""What the address of a page says: which shift."""

import re
from contextlib import suppress
from datetime import UTC, date, datetime, time, timedelta
from typing import Final
from zoneinfo import ZoneInfo

from msgspec import Struct

from wrung_service.api.bodies import HttpRequest
from wrung_service.usecases.look_at_crib import Shift

_HOURS: Final = 8
_STARTS: Final = (6, 14, 22)
"""Of early, late and night shift (common practice, no source)."""
_YEARS: Final = range(2000, 2201)
"""No shift is older or later than cribs."""
_SHIFT: Final = re.compile(r"(\d{4}-\d{2}-\d{2})T(\d{2})")


class NamedShift(Struct, frozen=True, kw_only=True):
    """A shift, with its day and first hour at the site."""

    day: date
    hour: int
    span: Shift

    @property
    def name(self) -> str:
        """As the address has it."""
        return f"{self.day.isoformat()}T{self.hour:02}"


def shift_of(request: HttpRequest, zone: str, now: datetime) -> NamedShift:
    """The shift that the address names, else the one that ``now`` lies in."""
    named = _SHIFT.fullmatch(request.query_params.get("shift", ""))
    if named is not None:
        with suppress(ValueError):
            day = date.fromisoformat(named[1])
            if day.year in _YEARS:
                return _shift(day, int(named[2]), zone)
    local = now.astimezone(ZoneInfo(zone))
    hour = max((each for each in _STARTS if each <= local.hour), default=_STARTS[-1])
    night = local.hour < _STARTS[0]
    return _shift(local.date() - timedelta(days=night), hour, zone)


def beside(shift: NamedShift, zone: str, shifts: int) -> NamedShift:
    """The shift so many shifts later."""
    at = datetime.combine(shift.day, time(shift.hour)) + timedelta(hours=_HOURS * shifts)
    return _shift(at.date(), at.hour, zone)


def _shift(day: date, hour: int, zone: str) -> NamedShift:
    at = datetime.combine(day, time(hour), ZoneInfo(zone))
    # By the clock on the wall, also in the night in which it is put forward or back.
    end = at + timedelta(hours=_HOURS)
    return NamedShift(
        day=day, hour=hour, span=Shift(starts_at=at.astimezone(UTC), ends_at=end.astimezone(UTC))
    )
