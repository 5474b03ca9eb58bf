"""Blocks over a shift: which block is where, when."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from datetime import datetime, timedelta
from typing import Literal, TypeAlias

from msgspec import Struct
from msgspec.structs import replace

from wrung.markings import engraved
from wrung_service.store.blocks import KeptBlock
from wrung_service.store.bookings import Booking
from wrung_service.usecases.look_at_crib import CribSeen, Shift

Look: TypeAlias = Literal["used", "now", "promised", "lent"]


class Bar(Struct, frozen=True, kw_only=True):
    """A block in somebody's hands, within the shift.

    Attributes:
        word: the operation, or the job, or who has it.
        ends_at: end of the bar; the shift's where nobody knows, or it is later.
        until: end of the need or the loan itself; None where nobody knows.
        clash: it begins before another bar of its block ends.
        late: it should have been back when the bar begins.
    """

    look: Look
    word: str
    job: str | None
    plan: str | None
    starts_at: datetime
    ends_at: datetime
    since: datetime
    until: datetime | None
    clash: bool = False
    late: bool = False


class TimeRow(Struct, frozen=True, kw_only=True):
    """A block and its bars, by their start."""

    block: str
    figure: str
    bars: tuple[Bar, ...]

    @property
    def used(self) -> timedelta:
        """For how long plans have it."""
        spans = (each.ends_at - each.starts_at for each in self.bars if each.look != "lent")
        return sum(spans, timedelta())


def timeline(
    seen: CribSeen, shift: Shift, now: datetime, *, decimal_mark: str, laboratory: str
) -> tuple[TimeRow, ...]:
    """A row a block, those that plans have for the longest time first.

    ``laboratory`` is the word for whoever has blocks that are at calibration.
    """
    booked: dict[str, list[Bar]] = defaultdict(list)
    for each in (*seen.booked, *_at_calibration(seen.unfit, laboratory)):
        if (bar := _bar(each, shift, now)) is not None:
            booked[each.block].append(bar)
    for each in _late(seen.out, now):
        if (bar := _bar(each, shift, now)) is not None:
            booked[each.block].append(replace(bar, until=None, late=True))
    known = {**{each.block.id: each for each in (*seen.out, *seen.unfit)}, **seen.named}
    figures = _figures(known, booked, decimal_mark)
    rows = [
        TimeRow(block=name, figure=figures[name], bars=_checked(bars))
        for name, bars in booked.items()
    ]
    return tuple(sorted(rows, key=lambda row: (-row.used, row.block)))


def _late(out: Iterable[KeptBlock], now: datetime) -> Iterator[Booking]:
    """What should be back is still where it went."""
    for each in out:
        loan = each.out
        if loan is not None and loan.due_at is not None and loan.due_at < now:
            yield _loan(each, since=loan.due_at, until=now, who=loan.borrower)


def _at_calibration(unfit: Iterable[KeptBlock], laboratory: str) -> Iterator[Booking]:
    for each in unfit:
        if each.condition == "at_calibration":
            yield _loan(each, since=each.condition_since, until=None, who=laboratory)


def _loan(held: KeptBlock, *, since: datetime, until: datetime | None, who: str | None) -> Booking:
    return Booking(
        block=held.block.id,
        plan=held.out.plan if held.out is not None else None,
        job=None,
        operation=None,
        state=None,
        borrower=who,
        starts_at=since,
        ends_at=until,
    )


def _bar(each: Booking, shift: Shift, now: datetime) -> Bar | None:
    end = shift.ends_at if each.ends_at is None else min(each.ends_at, shift.ends_at)
    start = max(each.starts_at, shift.starts_at)
    if end <= start:
        return None
    return Bar(
        look=_look(each, now),
        word=each.operation or each.job or each.borrower or "",
        job=each.job,
        plan=each.plan,
        starts_at=start,
        ends_at=end,
        since=each.starts_at,
        until=each.ends_at,
    )


def _look(each: Booking, now: datetime) -> Look:
    if each.state is None:
        return "lent"
    if each.state == "done" or (each.ends_at is not None and each.ends_at <= now):
        return "used"
    return "now" if each.starts_at <= now else "promised"


def _checked(bars: Iterable[Bar]) -> tuple[Bar, ...]:
    """By their start; those that begin before the one before them ends are marked."""
    last: datetime | None = None
    found: list[Bar] = []
    for bar in sorted(bars, key=lambda each: (each.starts_at, each.ends_at)):
        clash = last is not None and bar.starts_at < last
        found.append(replace(bar, clash=True) if clash else bar)
        last = bar.ends_at if last is None else max(last, bar.ends_at)
    return tuple(found)


def _figures(
    known: Mapping[str, KeptBlock], names: Iterable[str], decimal_mark: str
) -> dict[str, str]:
    """By block, what stands on it; with its set where that is needed to tell them apart."""
    wanted = [known[name] for name in names if name in known]
    several = len({each.block.set for each in wanted}) > 1
    figures: dict[str, str] = {name: name for name in names}
    for each in wanted:
        figure = engraved(each.block.nominal, each.block.unit, decimal_mark)
        figures[each.block.id] = f"{figure} {each.block.set}" if several else figure
    return figures
