"""Days and times as people at a site say them."""

from collections.abc import Callable
from datetime import date, datetime
from zoneinfo import ZoneInfo

from msgspec import Struct

_SOON_DAYS = 6
"""A weekday alone says which day is meant."""


class Calendar(Struct, frozen=True, kw_only=True):
    """The days of a site, in the words of a language.

    Attributes:
        now: the moment, in the site's zone.
        said: gives words by their keys.
    """

    now: datetime
    said: Callable[..., str]

    @property
    def zone(self) -> ZoneInfo:
        """The site's time zone."""
        zone = self.now.tzinfo
        assert isinstance(zone, ZoneInfo)  # noqa: S101 - `calendar_of` is the one way to make it
        return zone

    def day(self, day: date) -> str:
        """Such as ``4 Mar 2027``."""
        month = self.said("months").split()[day.month - 1]
        return self.said("day", day=day.day, month=month, year=day.year)

    def clock(self, at: datetime) -> str:
        """Such as ``14:30``."""
        local = at.astimezone(self.zone)
        return f"{local.hour}:{local.minute:02}"

    def weekday(self, day: date) -> str:
        """Such as ``Thu``."""
        return self.said("weekdays").split()[day.weekday()]

    def brief(self, at: datetime) -> str:
        """As it fits into the cell of a block: a time, a weekday, or a day."""
        local = at.astimezone(self.zone)
        ahead = abs((local.date() - self.now.date()).days)
        if ahead == 0:
            return self.clock(at)
        if ahead <= _SOON_DAYS:
            return self.weekday(local.date())
        name = self.said("months").split()[local.month - 1]
        return self.said("short_day", day=local.day, month=local.month, name=name)

    def moment(self, at: datetime) -> str:
        """In full: a time, with its day if that is another than today."""
        local = at.astimezone(self.zone)
        if local.date() == self.now.date():
            return self.clock(at)
        return f"{self.weekday(local.date())} {self.day(local.date())}, {self.clock(at)}"


def moment_of_clock(text: str, zone: str) -> datetime:
    """What a clock at a site shows, such as ``2027-03-04T14:30``.

    Raises:
        ValueError: it is no such time.
    """
    local = datetime.fromisoformat(text)
    if local.tzinfo is not None:
        raise ValueError(text)
    return local.replace(tzinfo=ZoneInfo(zone))


def calendar_of(zone: str, now: datetime, said: Callable[..., str]) -> Calendar:
    """The days of a site; ``zone`` is an IANA name."""
    return Calendar(now=now.astimezone(ZoneInfo(zone)), said=said)
