"""Members of a block as people read them: their names in words, their values with units."""

from datetime import date, datetime
from typing import Final

from msgspec import Struct

from wrung.lengths import SMALL_UNIT, Unit
from wrung.texts import SIGNS, marked
from wrung_service.api.crib_pages.moments import Calendar

_SMALL: Final = frozenset({"limit_deviation", "deviation", "expanded_uncertainty", "variation"})
_DAYS: Final = frozenset({"calibrated_on", "due_on"})
_FIGURES: Final = frozenset(
    {"coverage_factor", "degrees_of_freedom", "expansion", "expansion_uncertainty"}
)


class Members(Struct, frozen=True, kw_only=True):
    """Writes them in the language of a page.

    Attributes:
        mark: the decimal sign of metric figures.
    """

    calendar: Calendar
    mark: str

    def name(self, member: str) -> str:
        """Such as ``last day of use`` for ``due_on``."""
        return self.calendar.said(f"member.{member}")

    def value(self, member: str, text: str, unit: Unit) -> str:  # noqa: PLR0911 - a kind a line
        """A text of the store, of a block that had that unit then."""
        said = self.calendar.said
        if member in _SMALL:
            return self.small(text, unit)
        if member in _DAYS:
            return self.calendar.day(date.fromisoformat(text))
        if member in _FIGURES:
            return self.figure(text.removesuffix(".0"), "mm")
        match member:
            case "nominal":
                return f"{self.figure(text, unit)} {SIGNS[unit]}"
            case "due_at":
                return self.calendar.moment(datetime.fromisoformat(text))
            case "condition":
                return said(f"is.{text}")
            case "role" | "section":
                return said(f"{member}.{text}")
            case "minutes_out":
                return self.span(int(text))
            case _:
                return text

    def small(self, text: str, unit: Unit) -> str:
        """A deviation or an uncertainty."""
        return f"{self.figure(text, unit)} {SIGNS[SMALL_UNIT[unit]]}"

    def figure(self, text: str, unit: Unit) -> str:
        """A figure of a block that is marked in that unit."""
        return marked(text, unit, self.mark)

    def span(self, minutes: int) -> str:
        """Such as ``30 h 5 min``."""
        hours, rest = divmod(minutes, 60)
        return f"{hours} h {rest} min" if hours else f"{rest} min"
