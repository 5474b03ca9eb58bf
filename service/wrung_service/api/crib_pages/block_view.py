"""A block on its page: its state, its history in dated lines, and its certificates."""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from datetime import date, datetime
from typing import Any, Final, cast

from msgspec import Struct

from wrung.blocks import Block
from wrung.lengths import SMALL_UNIT, Unit
from wrung.markings import engraved
from wrung.metrology.drift import Calibrated, Drift, drift_of, known_limits
from wrung.rounding import Rounding, read_length
from wrung.texts import decimal_mark
from wrung_service.api.callers import ANYBODY
from wrung_service.api.crib_pages.case import is_overdue
from wrung_service.api.crib_pages.members import Members
from wrung_service.api.crib_pages.moments import Calendar, calendar_of
from wrung_service.api.crib_pages.trend_drawing import FEWEST, TrendPoint, draw_trend
from wrung_service.api.page_words import Language
from wrung_service.store.certificates import PastCertificate
from wrung_service.store.history import Entry
from wrung_service.usecases.look_at_block import BlockSeen

_TOLD: Final = frozenset({"made", "changed", "certified", "issued", "returned"})
_SAID: Final = frozenset({"plan", "condition", "condition_reason"})
"""Members that the line itself tells of."""


class Line(Struct, frozen=True, kw_only=True):
    """What happened, when, and by whom.

    Attributes:
        changes: members of the block, each with what was before and is; of a new block none.
    """

    at: datetime
    what: str
    who: str
    why: str | None
    job: str | None
    changes: Sequence[tuple[str, str, str]]


class BlockView(Struct, frozen=True, kw_only=True):
    """What is shown of a block.

    Attributes:
        overdue: whether its last day of use is over.
        certificates: the newest first.
        corrected: numbers of those that were noted again with other figures.
        trend: from three certificates on.
        drift: from two dated ones on.
    """

    seen: BlockSeen
    calendar: Calendar
    members: Members
    figure: str
    overdue: bool
    lines: Sequence[Line]
    certificates: Sequence[PastCertificate]
    corrected: frozenset[int]
    trend: str | None
    drift: Drift | None

    def small(self, quanta: int | None, rounding: Rounding = "stated") -> str:
        """A deviation or an uncertainty, in the small unit; as certified, or as a result."""
        if quanta is None:
            return ""
        unit = self.seen.held.block.unit
        return self.members.small(read_length(quanta, SMALL_UNIT[unit], rounding), unit)


def block_view(
    seen: BlockSeen, now: datetime, said: Callable[..., str], language: Language
) -> BlockView:
    """The block as it is shown; ``said`` gives words by their keys."""
    block, mark = seen.held.block, decimal_mark(language)
    calendar = calendar_of(seen.site.time_zone, now, said)
    members = Members(calendar=calendar, mark=mark)
    valid = _last_of_each(seen.certificates)
    return BlockView(
        seen=seen,
        calendar=calendar,
        members=members,
        figure=engraved(block.nominal, block.unit, mark),
        overdue=is_overdue(seen.held, calendar.now.date()),
        lines=tuple(_lines(seen.entries, members, block.unit)),
        certificates=sorted(seen.certificates, key=_order, reverse=True),
        corrected=frozenset(each.number for each in seen.certificates) - valid.keys(),
        trend=_trend(block, valid.values(), members),
        drift=_drift(block, valid.values()),
    )


def _last_of_each(certificates: Iterable[PastCertificate]) -> dict[int, PastCertificate]:
    """By number; of what was noted twice for one calibration, what was noted last."""
    last = {
        (each.certificate, each.calibrated_on) if each.calibrated_on else each.number: each
        for each in certificates
    }
    return {each.number: each for each in last.values()}


def _order(each: PastCertificate) -> tuple[date, int]:
    return each.calibrated_on or each.noted_at.date(), each.number


def _trend(block: Block, certificates: Iterable[PastCertificate], members: Members) -> str | None:
    points = [
        TrendPoint(
            on=_order(each)[0],
            deviation=each.deviation,
            uncertainty=each.expanded_uncertainty or 0,
        )
        for each in sorted(certificates, key=_order)
        if each.deviation is not None
    ]
    if len(points) < FEWEST:
        return None
    return draw_trend(points, known_limits(block), block.unit, members)


def _drift(block: Block, certificates: Iterable[PastCertificate]) -> Drift | None:
    points = [
        Calibrated(
            on=each.calibrated_on,
            deviation=each.deviation,
            expanded_uncertainty=each.expanded_uncertainty or 0,
            due_on=each.due_on,
        )
        for each in certificates
        if each.calibrated_on is not None and each.deviation is not None
    ]
    return drift_of(points, known_limits(block))


def _lines(entries: Iterable[Entry], members: Members, unit: Unit) -> Iterator[Line]:
    """The newest first; each in the unit that the block had then, ``unit`` being today's."""
    for entry in entries:
        condition = _both(entry.detail.get("condition")).get("after") or ""
        changed = entry.detail.get("unit")
        before = cast("Unit", changed["before"]) if isinstance(changed, dict) else unit
        yield Line(
            at=entry.at,
            what=_what(entry, condition, members.calendar.said),
            who=members.calendar.said("anybody") if entry.who == ANYBODY.name else entry.who,
            why=entry.why,
            job=entry.job,
            changes=[]
            if entry.what == "block.made"
            else [
                _change(name, value, members, (before, unit))
                for name, value in entry.detail.items()
                if value is not None and name not in _SAID
            ],
        )
        unit = before


def _what(entry: Entry, condition: str, said: Callable[..., str]) -> str:
    """In words; a condition is told wherever the block is not fit, or is again."""
    name = entry.what.removeprefix("block.")
    if name == "condition":
        return said(f"is.{condition}")
    what = said(f"what.{name}" if name in _TOLD else "what.changed")
    return what if condition in ("", "fit") else f"{what}, {said(f'is.{condition}')}"


def _both(value: object) -> Mapping[str, Any]:
    """A member before and after; history names one of them only where nothing was before."""
    return cast("Mapping[str, Any]", value) if isinstance(value, dict) else {"after": value}


def _change(
    name: str, value: object, members: Members, units: tuple[Unit, Unit]
) -> tuple[str, str, str]:
    """A member with its value before, if it had one, and after."""
    before, after = (
        members.value(name, str(text), unit) if (text := _both(value).get(when)) else ""
        for when, unit in zip(("before", "after"), units, strict=True)
    )
    return members.name(name), before, after
