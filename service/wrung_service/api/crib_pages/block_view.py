"""A block on its page: its state, its history in dated lines, and its certificates."""

from collections.abc import Callable, Mapping, Sequence
from datetime import datetime
from typing import Any, Final, cast

from msgspec import Struct

from wrung.lengths import SMALL_UNIT, to_text
from wrung.stack_drawing.lettering import engraved
from wrung.texts import SIGNS, decimal_mark
from wrung_service.api.crib_pages.asked import Language
from wrung_service.api.crib_pages.moments import Calendar, calendar_of
from wrung_service.api.crib_pages.trend_drawing import FEWEST, TrendPoint, draw_trend
from wrung_service.store.history import Entry
from wrung_service.usecases.look_at_block import BlockSeen

_TOLD: Final = frozenset({"made", "changed", "certified", "condition", "issued", "returned"})


class Line(Struct, frozen=True, kw_only=True):
    """What happened, when, and by whom; ``changes`` are members with what was before and is."""

    at: datetime
    what: str
    who: str
    why: str | None
    job: str | None
    changes: Sequence[tuple[str, str, str]]


class BlockView(Struct, frozen=True, kw_only=True):
    """What is shown of a block; ``trend`` from three certificates on."""

    seen: BlockSeen
    calendar: Calendar
    figure: str
    unit: str
    lines: Sequence[Line]
    trend: str | None

    def small(self, quanta: int | None) -> str:
        """A deviation or an uncertainty, in the small unit."""
        if quanta is None:
            return ""
        return f"{to_text(quanta, SMALL_UNIT[self.seen.held.block.unit])} {self.unit}"


def block_view(
    seen: BlockSeen, now: datetime, said: Callable[..., str], language: Language
) -> BlockView:
    """The block as it is shown; ``said`` gives words by their keys."""
    block = seen.held.block
    return BlockView(
        seen=seen,
        calendar=calendar_of(seen.site.time_zone, now, said),
        figure=engraved(block.nominal, block.unit, decimal_mark(language)),
        unit=SIGNS[SMALL_UNIT[block.unit]],
        lines=[_line(each) for each in seen.entries],
        trend=_trend(seen, said("trend")),
    )


def _trend(seen: BlockSeen, title: str) -> str | None:
    points = [
        TrendPoint(
            on=each.calibrated_on or each.noted_at.date(),
            deviation=each.deviation,
            uncertainty=each.expanded_uncertainty or 0,
        )
        for each in seen.certificates
        if each.deviation is not None
    ]
    if len(points) < FEWEST:
        return None
    points.sort(key=lambda each: each.on)
    block = seen.held.block
    return draw_trend(points, block.limit_deviation, block.unit, title)


def _line(entry: Entry) -> Line:
    what = entry.what.removeprefix("block.")
    return Line(
        at=entry.at,
        what=what if what in _TOLD else "changed",
        who=entry.who,
        why=entry.why,
        job=entry.job,
        changes=[_change(name, value) for name, value in entry.detail.items() if value is not None],
    )


def _change(name: str, value: object) -> tuple[str, str, str]:
    """A member with its value before, if it had one, and after."""
    if isinstance(value, dict):
        both = cast("Mapping[str, Any]", value)
        return name, str(both.get("before") or ""), str(both.get("after") or "")
    return name, "", str(value)
