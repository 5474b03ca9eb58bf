"""What comes to pass by itself: blocks that are late, due or overdue, once for each endpoint."""

from collections.abc import Sequence
from datetime import date, datetime, timedelta
from typing import Any, Final

import sqlalchemy as sa
from msgspec import Struct

from wrung_service.store.blocks import NEVER_DUE
from wrung_service.store.tables import block, loan, webhook_notice
from wrung_service.store.webhooks.endpoints import Endpoint
from wrung_service.store.webhooks.messages import (
    BlockDueMessage,
    BlockLateMessage,
    BlockOverdueMessage,
    DueFigures,
    EventType,
    LateFigures,
    Message,
)

_MOST: Final = 200
"""At one time, of each kind; the next sweep goes on."""


class Notice(Struct, frozen=True, kw_only=True):
    """A message about a block; ``due`` tells one loan, or one last day, from the next."""

    block: str
    due: str
    message: Message


def new_notices(
    connection: sa.Connection, of: str, endpoint: Endpoint, today: date, now: datetime
) -> tuple[Notice, ...]:
    """What the endpoint is to be told of now, and was not before; ``today`` is that of the site."""
    until = today + timedelta(days=endpoint.due_days)
    due, before = block.c.due_on.between(today, until), block.c.due_on < today
    found: list[Notice] = []
    if "block.late" in endpoint.events:
        found += _late(connection, of, endpoint.id, now)
    if "block.due" in endpoint.events:
        rows = _due_rows(connection, of, endpoint.id, "block.due", due)
        found += [_due_notice(of, row, BlockDueMessage, now) for row in rows]
    if "block.overdue" in endpoint.events:
        rows = _due_rows(connection, of, endpoint.id, "block.overdue", before)
        found += [_due_notice(of, row, BlockOverdueMessage, now) for row in rows]
    return tuple(found)


def note(
    connection: sa.Connection, of: str, endpoint: str, told: Sequence[Notice], now: datetime
) -> None:
    """Write down that the endpoint was told, so that it is told once."""
    rows = [
        {
            "site_id": of,
            "endpoint_id": endpoint,
            "event": each.message.type,
            "block_id": each.block,
            "due": each.due,
            "noted_at": now,
        }
        for each in told
    ]
    connection.execute(sa.insert(webhook_notice), rows)


def _late(connection: sa.Connection, of: str, endpoint: str, now: datetime) -> tuple[Notice, ...]:
    number = sa.cast(loan.c.n, sa.String(32))
    query = (
        sa.select(loan)
        .where(
            loan.c.site_id == of,
            loan.c.returned_at.is_(None),
            loan.c.due_at < now,
            ~_told(of, endpoint, "block.late", loan.c.block_id, number),
        )
        .order_by(loan.c.due_at, loan.c.n)
        .limit(_MOST)
    )
    return tuple(_late_notice(of, row, now) for row in connection.execute(query))


def _due_rows(
    connection: sa.Connection,
    of: str,
    endpoint: str,
    event: EventType,
    days: sa.ColumnElement[bool],
) -> Sequence[Any]:
    day = sa.cast(block.c.due_on, sa.String(32))
    query = (
        sa.select(block.c.id, block.c.set_id, block.c.certificate, block.c.due_on)
        .where(
            block.c.site_id == of,
            block.c.removed_at.is_(None),
            block.c.condition.not_in(NEVER_DUE),
            days,
            ~_told(of, endpoint, event, block.c.id, day),
        )
        .order_by(block.c.due_on, block.c.id)
        .limit(_MOST)
    )
    return connection.execute(query).all()


def _told(
    of: str,
    endpoint: str,
    event: EventType,
    name: sa.ColumnElement[str],
    due: sa.ColumnElement[str],
) -> sa.Exists:
    return sa.exists().where(
        webhook_notice.c.site_id == of,
        webhook_notice.c.endpoint_id == endpoint,
        webhook_notice.c.event == event,
        webhook_notice.c.block_id == name,
        webhook_notice.c.due == due,
    )


def _late_notice(of: str, row: Any, now: datetime) -> Notice:  # noqa: ANN401 - a row
    figures = LateFigures(
        site=of,
        block=row.block_id,
        plan=row.plan_id,
        borrower=row.borrower,
        issued_at=row.issued_at,
        due_at=row.due_at,
    )
    message = BlockLateMessage(timestamp=now, data=figures)
    return Notice(block=row.block_id, due=str(row.n), message=message)


def _due_notice(
    of: str,
    row: Any,  # noqa: ANN401 - a row
    kind: type[BlockDueMessage] | type[BlockOverdueMessage],
    now: datetime,
) -> Notice:
    figures = DueFigures(
        site=of, block=row.id, set=row.set_id, certificate=row.certificate, due_on=row.due_on
    )
    message = kind(timestamp=now, data=figures)
    return Notice(block=row.id, due=str(row.due_on), message=message)
