"""Who has, had or will have which block in a span of time: plans by promises, others by loans."""

from collections.abc import Iterable, Iterator
from datetime import datetime, timedelta
from typing import Any, Final

import sqlalchemy as sa
from msgspec import Struct

from wrung_service.store.plans import PlanState
from wrung_service.store.tables import loan, plan, promise

_LOOK_BACK: Final = timedelta(days=31)
"""A need that began earlier is not looked for: it would take reading all plans there ever were."""
_LAST_LOANS: Final = 2000


class Booking(Struct, frozen=True, kw_only=True):
    """A block in somebody's hands from the start up to the end, without the pause after it.

    Attributes:
        plan: the plan that is promised it; None where it was lent without one.
        state: of that plan.
        borrower: who took it without a plan, if that was said.
        ends_at: None where nobody knows.
    """

    block: str
    plan: str | None
    job: str | None
    operation: str | None
    state: PlanState | None
    borrower: str | None
    starts_at: datetime
    ends_at: datetime | None


def bookings(
    connection: sa.Connection, site: str, start: datetime, end: datetime
) -> tuple[Booking, ...]:
    """All of the span, by their start; plans that were given up have none."""
    found = (*_promised(connection, site, start, end), *_lent(connection, site, start, end))
    return tuple(sorted(found, key=lambda each: (each.starts_at, each.block)))


def _promised(
    connection: sa.Connection, site: str, start: datetime, end: datetime
) -> Iterator[Booking]:
    # What a plan was promised until it was planned anew is not among what it used.
    kept = sa.or_(
        promise.c.released_at.is_(None),
        sa.and_(plan.c.state == "done", promise.c.released_at == plan.c.ended_at),
    )
    query = (
        sa.select(
            promise.c.block_id,
            plan.c.id,
            plan.c.job,
            plan.c.operation,
            plan.c.state,
            promise.c.starts_at,
            promise.c.ends_at,
            plan.c.pause_s,
            plan.c.ended_at,
        )
        .join(promise, promise.c.plan_id == plan.c.id)
        .where(
            plan.c.site_id == site,
            plan.c.starts_at >= start - _LOOK_BACK,
            plan.c.starts_at < end,
            plan.c.ends_at > start,
            plan.c.state.in_(("planned", "done")),
            promise.c.starts_at < end,
            promise.c.ends_at > start,
            kept,
        )
    )
    return _used(connection.execute(query))


def _used(rows: Iterable[Any]) -> Iterator[Booking]:
    for row in rows:
        ends_at = row.ends_at - timedelta(seconds=row.pause_s)
        # Whoever is done early has no longer what was promised for later.
        if row.ended_at is not None:
            ends_at = min(ends_at, row.ended_at)
        if ends_at > row.starts_at:
            yield Booking(
                block=row.block_id,
                plan=row.id,
                job=row.job,
                operation=row.operation,
                state=row.state,
                borrower=None,
                starts_at=row.starts_at,
                ends_at=ends_at,
            )


def _lent(
    connection: sa.Connection, site: str, start: datetime, end: datetime
) -> Iterator[Booking]:
    """Of all loans that are open, and of the last ones that came back."""
    last = sa.select(loan.c.n).where(loan.c.site_id == site, loan.c.plan_id.is_(None))
    last = last.order_by(loan.c.n.desc()).limit(_LAST_LOANS)
    query = sa.select(loan).where(
        loan.c.site_id == site,
        loan.c.plan_id.is_(None),
        loan.c.issued_at < end,
        sa.or_(
            loan.c.returned_at.is_(None),
            sa.and_(loan.c.n.in_(last), loan.c.returned_at > start),
        ),
    )
    for row in connection.execute(query):
        yield Booking(
            block=row.block_id,
            plan=None,
            job=None,
            operation=None,
            state=None,
            borrower=row.borrower,
            starts_at=row.issued_at,
            ends_at=row.returned_at or row.due_at,
        )
