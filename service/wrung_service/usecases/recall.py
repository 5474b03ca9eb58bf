"""Who has used a block, or still counts on it: for when its certificate turns out to be wrong."""

from collections.abc import Iterable, Iterator, Sequence
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import msgspec
from msgspec import Raw, Struct

from wrung_service.store.engine import Store
from wrung_service.store.loans import Loan
from wrung_service.store.past_plans import (
    PastPlan,
    PastRecord,
    check_block,
    plans_with_block,
)
from wrung_service.store.plans import PlanHead
from wrung_service.store.shelves import time_zone_of
from wrung_service.usecases.keep_plans import expire_plans

_EVER = datetime.max.replace(tzinfo=UTC)


class RecordedUse(Struct, frozen=True, kw_only=True):
    """A block in a stack of a plan, as a record has it.

    Attributes:
        target: None, with all that a record says, if the block went out for the plan without
            being in a record of it.
        needed_until: without the pause after the use.
        issued_at: when it went out for that, if it did.
        returned_at: when it came back; None if it did not go out, or is out.
        recorded_at: when the record was made.
        replaced_at: when another record took its place; None if it is the plan's last.
        block: as recorded, as JSON.
    """

    plan: PlanHead
    target: str | None = None
    role: str | None = None
    needed_from: datetime
    needed_until: datetime
    issued_at: datetime | None = None
    returned_at: datetime | None = None
    recorded_at: datetime | None = None
    replaced_at: datetime | None = None
    small_unit: str | None = None
    block: Raw | None = None

    @property
    def over_at(self) -> datetime:
        """When the use was over, or will be."""
        if self.issued_at is not None:
            return self.returned_at or _EVER
        return min(self.needed_until, self.replaced_at or _EVER)


class Recall(Struct, frozen=True, kw_only=True):
    """Uses of a block since a day, by the start of the plans' need.

    Attributes:
        used: it was used, or is in use.
        planned: it is promised, and has not gone out.
    """

    used: tuple[RecordedUse, ...]
    planned: tuple[RecordedUse, ...]


class _Block(Struct):
    id: str


class _Stack(Struct):
    target: str
    role: str | None
    blocks: tuple[Raw, ...]


class _Record(Struct):
    made_at: datetime
    small_unit: str
    stacks: tuple[_Stack, ...]


_RECORDS = msgspec.json.Decoder(_Record)
_BLOCKS = msgspec.json.Decoder(_Block)


def recall(store: Store, site: str, name: str, since: date, now: datetime) -> Recall:
    """Every use of the block from the beginning of that day at the site.

    Raises:
        UnknownError: there is no such site, or it never had such a block.
        UnavailableError: the database does not do its work now.
    """
    expire_plans(store, site, now)
    with store.reading() as connection:
        start = _start_of(since, time_zone_of(connection, site))
        check_block(connection, site, name)
        plans = plans_with_block(connection, site, name, start)
    found = [use for each in plans for use in uses_in(each, name) if use.over_at > start]
    return Recall(
        used=tuple(each for each in found if not _only_planned(each)),
        planned=tuple(each for each in found if _only_planned(each)),
    )


def _start_of(day: date, time_zone: str) -> datetime:
    local = datetime(day.year, day.month, day.day, tzinfo=ZoneInfo(time_zone))
    try:
        return local.astimezone(UTC)
    except OverflowError:
        # The first and the last day of the calendar begin outside it elsewhere.
        return local.replace(tzinfo=UTC)


def _only_planned(use: RecordedUse) -> bool:
    """Whether there is still time to plan anew without the block."""
    return use.plan.state == "planned" and use.issued_at is None and use.replaced_at is None


def uses_in(past: PastPlan, name: str) -> tuple[RecordedUse, ...]:
    """Where the plan used the block, or counts on it, by its records."""
    found: dict[tuple[object, ...], RecordedUse] = {}
    # The last one first: what it says of a stack, an older one need not say again.
    for record in reversed(past.records):
        for use in _recorded(past, record, name):
            if _counts(past, use):
                found.setdefault((use.target, use.role, use.block and bytes(use.block)), use)
    return tuple(found.values()) or tuple(_unrecorded(past, name))


def _recorded(past: PastPlan, record: PastRecord, name: str) -> Iterator[RecordedUse]:
    read = _RECORDS.decode(record.record)
    out = _loan(past.loans, name, read.made_at, record.replaced_at or _EVER)
    for place, stack in enumerate(read.stacks):
        start, end = _need(past, name, place)
        for block in stack.blocks:
            if _BLOCKS.decode(block).id == name:
                yield RecordedUse(
                    plan=past.plan,
                    target=stack.target,
                    role=stack.role,
                    needed_from=start,
                    needed_until=end,
                    issued_at=None if out is None else out.issued_at,
                    returned_at=None if out is None else out.returned_at,
                    recorded_at=read.made_at,
                    replaced_at=record.replaced_at,
                    small_unit=read.small_unit,
                    block=block,
                )


def _loan(loans: Iterable[Loan], name: str, start: datetime, end: datetime) -> Loan | None:
    """The last time that the block was out while a record was in force."""
    out: Loan | None = None
    for each in loans:
        back = each.returned_at or _EVER
        if each.block_id == name and each.issued_at < end and back > start:
            out = each
    return out


def _need(past: PastPlan, name: str, place: int) -> tuple[datetime, datetime]:
    """When a stack needs the block; stacks in turn share the promise of the first of them."""
    own = [each for each in past.promises if each.block_id == name]
    before = [each for each in own if each.stack <= place] or own
    if not before:
        return past.plan.starts_at, past.plan.ends_at
    promise = max(before, key=lambda each: each.stack)
    return promise.starts_at, promise.ends_at - timedelta(seconds=past.plan.pause_s)


def _counts(past: PastPlan, use: RecordedUse) -> bool:
    """Whether the block was used as the record says, or is still going to be."""
    if use.issued_at is not None:
        return True
    if past.plan.state in {"cancelled", "expired"}:
        return False
    if use.replaced_at is None:
        return True
    # Where blocks are issued, one that was not is still in its box; else only the times tell.
    return not past.loans and use.needed_from < use.replaced_at


def _unrecorded(past: PastPlan, name: str) -> Sequence[RecordedUse]:
    """What went out for the plan although no record has it."""
    start, end = _need(past, name, 0)
    return [
        RecordedUse(
            plan=past.plan,
            needed_from=start,
            needed_until=end,
            issued_at=each.issued_at,
            returned_at=each.returned_at,
        )
        for each in past.loans
        if each.block_id == name
    ]
