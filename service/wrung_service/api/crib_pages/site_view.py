"""A site on its page: everything that its template needs, in one object."""

from collections.abc import Callable, Sequence
from datetime import datetime

from msgspec import Struct

from wrung.markings import engraved
from wrung.texts import decimal_mark
from wrung_service.api.crib_pages.absent import Absent, absent
from wrung_service.api.crib_pages.asked import NamedShift, beside
from wrung_service.api.crib_pages.case import Case, case_of
from wrung_service.api.crib_pages.moments import Calendar, calendar_of
from wrung_service.api.crib_pages.timeline import TimeRow, timeline
from wrung_service.api.crib_pages.timeline_drawing import draw_timeline
from wrung_service.api.inventory.due import DueBlocks, due_list
from wrung_service.api.page_words import Language
from wrung_service.store.blocks import KeptBlock
from wrung_service.usecases.look_at_crib import CribSeen

_WIDE, _NARROW = 1180, 380
"""Of the two drawings of a shift, of which a screen shows one."""
_MOST_ROWS = 40
"""Of a drawing; the table has all."""


class SiteView(Struct, frozen=True, kw_only=True):
    """What is shown of a site.

    Attributes:
        damaged: blocks that are damaged or retired.
        times: blocks over the shift, all of them.
        wide: the drawing of the first of them; ``narrow`` for a phone. None if there is nothing.
    """

    seen: CribSeen
    calendar: Calendar
    mark: str
    case: Case
    absent: Sequence[Absent]
    damaged: Sequence[KeptBlock]
    due: Sequence[DueBlocks]
    shift: NamedShift
    before: NamedShift
    after: NamedShift
    times: Sequence[TimeRow]
    wide: str | None
    narrow: str | None

    def figure(self, held: KeptBlock) -> str:
        """What stands on a block."""
        return engraved(held.block.nominal, held.block.unit, self.mark)

    def by_set(self, held: Sequence[KeptBlock]) -> Sequence[tuple[str | None, Sequence[KeptBlock]]]:
        """Blocks set by set; the name of a set only where a site has several."""
        several = len(self.seen.sets) > 1
        found: dict[str, list[KeptBlock]] = {}
        for each in held:
            found.setdefault(each.block.set or "", []).append(each)
        return [(name if several else None, found[name]) for name in sorted(found)]

    @property
    def not_drawn(self) -> int:
        """How many blocks the drawing has no room for."""
        return max(0, len(self.times) - _MOST_ROWS)

    @property
    def risky(self) -> frozenset[str]:
        """Plans that cannot count on a block."""
        return frozenset(each.plan for each in self.seen.at_risk)


def site_view(
    seen: CribSeen,
    shift: NamedShift,
    now: datetime,
    said: Callable[..., str],
    language: Language,
) -> SiteView:
    """The site as it is shown; ``said`` gives words by their keys."""
    zone = seen.site.time_zone
    calendar, mark = calendar_of(zone, now, said), decimal_mark(language)
    laboratory = said("laboratory")
    times = timeline(seen, shift.span, now, decimal_mark=mark, laboratory=laboratory)
    title = said("shift_title", day=calendar.day(shift.day))
    wide, narrow = (
        draw_timeline(times[:_MOST_ROWS], shift.span, calendar, width=width, title=title)
        if times
        else None
        for width in (_WIDE, _NARROW)
    )
    return SiteView(
        seen=seen,
        calendar=calendar,
        mark=mark,
        case=case_of(seen.chosen, seen.blocks, seen.booked_now, calendar, mark),
        absent=absent(seen.out, seen.unfit, seen.lent_for, calendar.now),
        damaged=[each for each in seen.unfit if each.condition in ("damaged", "retired")],
        due=due_list(seen.dated, calendar.now.date()).due,
        shift=shift,
        before=beside(shift, zone, -1),
        after=beside(shift, zone, 1),
        times=times,
        wide=wide,
        narrow=narrow,
    )
