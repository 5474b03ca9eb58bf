"""Messages to endpoints: written down, taken to be sent, and what became of them."""

import secrets
from collections.abc import Collection, Sequence
from datetime import datetime, timedelta
from typing import Any, Final, Literal, TypeAlias

import msgspec
import sqlalchemy as sa
from msgspec import Struct
from msgspec.structs import replace

from wrung_service.store.errors import UnknownError
from wrung_service.store.pages import Page, Place, page_of
from wrung_service.store.tables import webhook_delivery, webhook_endpoint
from wrung_service.store.webhooks.messages import MOST_BYTES, Message

DeliveryState: TypeAlias = Literal["waiting", "delivered", "failed"]
"""Waits for its first or next try, was delivered, or was given up."""
TRIED_FOR: Final = timedelta(hours=72)
"""After this time a message is given up."""
KEPT_FOR: Final = timedelta(days=30)
"""How long a message is kept after it was written."""
_TABLE: Final = webhook_delivery.c
_ENCODER: Final = msgspec.json.Encoder()


class Delivery(Struct, frozen=True, kw_only=True):
    """A message to one endpoint.

    Attributes:
        message_id: the same for every try, and for every endpoint that is told of the same thing.
        next_try_at: None: it was delivered, or given up.
        status: the HTTP status that the last try was answered with.
        fault: why the last try had no answer, such as ``timeout``.
    """

    n: int
    site_id: str
    endpoint_id: str
    message_id: str
    event: str
    body: str
    made_at: datetime
    next_try_at: datetime | None
    give_up_at: datetime | None
    tries: int
    tried_at: datetime | None
    delivered_at: datetime | None
    status: int | None
    fault: str | None

    @property
    def state(self) -> DeliveryState:
        """What became of it so far."""
        if self.delivered_at is not None:
            return "delivered"
        return "failed" if self.next_try_at is None else "waiting"


def new_message_id() -> str:
    """An id that no other message has."""
    return f"msg_{secrets.token_hex(16)}"


def add_message(
    connection: sa.Connection, of: str, endpoints: Sequence[str], message: Message, at: datetime
) -> str:
    """Write a message down for endpoints of a site; its id.

    Raises:
        AssertionError: it is too long, which no figures of the store can make it.
    """
    body, name = _ENCODER.encode(message), new_message_id()
    if len(body) > MOST_BYTES:
        raise AssertionError("a message is longer than the standard allows")
    row = {
        "site_id": of,
        "message_id": name,
        "event": message.type,
        "body": body.decode(),
        "made_at": at,
        "next_try_at": at,
        "give_up_at": at + TRIED_FOR,
    }
    rows = [{**row, "endpoint_id": each} for each in endpoints]
    connection.execute(sa.insert(webhook_delivery), rows)
    return name


def get_delivery(connection: sa.Connection, of: str, endpoint: str, name: str) -> Delivery:
    """The message of that id to that endpoint.

    Raises:
        UnknownError: there is none.
    """
    query = _query(of, endpoint).where(_TABLE.message_id == name)
    row = connection.execute(query).first()
    if row is None:
        raise UnknownError("delivery", name)
    return _delivery(row)


def list_deliveries(
    connection: sa.Connection, of: str, endpoint: str, state: DeliveryState | None, place: Place
) -> Page[Delivery]:
    """Messages to an endpoint, the oldest first."""
    query = _query(of, endpoint).add_columns(_TABLE.n.label("id"))
    match state:
        case "delivered":
            query = query.where(_TABLE.delivered_at.is_not(None))
        case "waiting":
            query = query.where(_TABLE.next_try_at.is_not(None))
        case "failed":
            query = query.where(_TABLE.next_try_at.is_(None), _TABLE.delivered_at.is_(None))
        case None:
            pass
    if place.after is not None:
        query = query.where(_TABLE.n > int(place.after))
    return page_of(connection, query, _TABLE.n, replace(place, after=None), _delivery)


def send_again(connection: sa.Connection, of: str, endpoint: str, name: str, at: datetime) -> None:
    """Let a message be sent at the next opportunity, and be tried as long as a new one."""
    same = (_TABLE.site_id == of, _TABLE.endpoint_id == endpoint, _TABLE.message_id == name)
    connection.execute(
        sa.update(webhook_delivery)
        .where(*same)
        .values(next_try_at=at, give_up_at=at + TRIED_FOR, delivered_at=None)
    )


def any_due(connection: sa.Connection, now: datetime) -> bool:
    """Whether there is anything to send."""
    return connection.execute(_due(now).limit(1)).first() is not None


def take(  # noqa: PLR0913 - what is to be taken
    connection: sa.Connection,
    now: datetime,
    lease: timedelta,
    *,
    most: int,
    each: int,
    without: Collection[tuple[str, str]] = (),
) -> tuple[Delivery, ...]:
    """Messages to send now; nobody else takes them until the lease is over.

    Args:
        connection: of a transaction that writes.
        now: the moment.
        lease: longer than sending takes; whoever dies meanwhile leaves the message to others.
        most: how many at most.
        each: how many at most to one endpoint, so that a slow one holds up nobody else.
        without: sites and ids of endpoints that get nothing now.
    """
    place = sa.func.row_number().over(
        partition_by=(_TABLE.site_id, _TABLE.endpoint_id), order_by=_TABLE.n
    )
    ranked = _due(now).add_columns(place.label("place"))
    if without:
        ours = sa.tuple_(_TABLE.site_id, _TABLE.endpoint_id)
        ranked = ranked.where(ours.not_in(list(without)))
    first = ranked.subquery()
    chosen = sa.select(first.c.n).where(first.c.place <= each).order_by(first.c.n).limit(most)
    # Said once more, as another may have taken one since that was worked out.
    query = sa.select(_TABLE.n).where(_TABLE.n.in_(chosen), _TABLE.next_try_at <= now)
    numbers = connection.execute(query.with_for_update(skip_locked=True)).scalars().all()
    taken = (
        sa.update(webhook_delivery)
        .where(_TABLE.n.in_(numbers))
        .values(next_try_at=now + lease, tries=_TABLE.tries + 1, tried_at=now)
        .returning(webhook_delivery)
    )
    found = [_delivery(row) for row in connection.execute(taken)] if numbers else []
    return tuple(sorted(found, key=lambda delivery: delivery.n))


def mark_delivered(connection: sa.Connection, sent: Delivery, status: int, now: datetime) -> None:
    """Note that a message arrived."""
    connection.execute(
        sa.update(webhook_delivery)
        .where(_TABLE.n == sent.n)
        .values(delivered_at=now, next_try_at=None, status=status, fault=None)
    )


def mark_failed(
    connection: sa.Connection,
    sent: Delivery,
    status: int | None,
    fault: str | None,
    next_try_at: datetime | None,
) -> None:
    """Note that a message did not arrive, and when it is tried again; None: no more."""
    connection.execute(
        sa.update(webhook_delivery)
        # Not if another has tried it since, who knows better.
        .where(_TABLE.n == sent.n, _TABLE.tries == sent.tries, _TABLE.delivered_at.is_(None))
        .values(next_try_at=next_try_at, status=status, fault=fault)
    )


def any_old(connection: sa.Connection, of: str, now: datetime) -> bool:
    """Whether `clear_old` has anything to do."""
    query = sa.select(_TABLE.n).where(sa.or_(_given_up(of, now), _forgotten(of, now))).limit(1)
    return connection.execute(query).first() is not None


def clear_old(connection: sa.Connection, of: str, now: datetime) -> None:
    """Give up what waits for too long at an endpoint that is off, and forget what is very old."""
    given_up = sa.update(webhook_delivery).where(_given_up(of, now))
    connection.execute(given_up.values(next_try_at=None))
    connection.execute(sa.delete(webhook_delivery).where(_forgotten(of, now)))


def _given_up(of: str, now: datetime) -> sa.ColumnElement[bool]:
    return sa.and_(_TABLE.site_id == of, _TABLE.next_try_at < now, _TABLE.give_up_at < now)


def _forgotten(of: str, now: datetime) -> sa.ColumnElement[bool]:
    old = _TABLE.made_at < now - KEPT_FOR
    return sa.and_(_TABLE.site_id == of, _TABLE.next_try_at.is_(None), old)


def _due(now: datetime) -> sa.Select[Any]:
    open_ones = sa.and_(
        webhook_endpoint.c.site_id == _TABLE.site_id,
        webhook_endpoint.c.id == _TABLE.endpoint_id,
        webhook_endpoint.c.stopped_at.is_(None),
    )
    return sa.select(_TABLE.n).join(webhook_endpoint, open_ones).where(_TABLE.next_try_at <= now)


def _query(of: str, endpoint: str) -> sa.Select[Any]:
    return sa.select(webhook_delivery).where(_TABLE.site_id == of, _TABLE.endpoint_id == endpoint)


def _delivery(row: Any) -> Delivery:  # noqa: ANN401 - a row
    return Delivery(**{name: getattr(row, name) for name in Delivery.__struct_fields__})
