"""Endpoints: where the messages of a site go, which ones, and the secrets that sign them."""

from datetime import datetime
from typing import Any, Final, Literal, TypeAlias

import sqlalchemy as sa
from msgspec import Struct

from wrung_service.store.errors import UnknownError
from wrung_service.store.pages import Page, Place, page_of
from wrung_service.store.tables import webhook_delivery, webhook_endpoint, webhook_notice
from wrung_service.store.webhooks.messages import EVENT_TYPES, EventType

StopReason: TypeAlias = Literal["requested", "gone"]
"""Why nothing is sent to an endpoint: somebody said so, or it answered that it is gone (410)."""
_TABLE: Final = webhook_endpoint.c
_AS_THEY_ARE: Final = (
    "id",
    "url",
    "secret",
    "previous_secret",
    "previous_until",
    "description",
    "due_days",
    "made_at",
    "stopped_at",
    "stop_reason",
    "version",
)


class Endpoint(Struct, frozen=True, kw_only=True):
    """Where messages go.

    Attributes:
        secret: signs every message; ``whsec_`` and base64.
        previous_secret: the one before, which also signs, until ``previous_until``.
        events: what it is told of.
        due_days: how many days before its last day of use a block is called due.
    """

    id: str
    url: str
    secret: str
    previous_secret: str | None = None
    previous_until: datetime | None = None
    events: tuple[EventType, ...]
    description: str | None = None
    due_days: int
    made_at: datetime
    stopped_at: datetime | None = None
    stop_reason: StopReason | None = None
    version: int = 1

    def secrets(self, now: datetime) -> tuple[str, ...]:
        """Those that sign at a moment, the newest first."""
        kept = self.previous_until is not None and now < self.previous_until
        both = (self.secret, self.previous_secret if kept else None)
        return tuple(each for each in both if each is not None)


def find_endpoint(
    connection: sa.Connection, of: str, name: str, *, to_change: bool = False
) -> Endpoint | None:
    """The endpoint; None if there is none. To be changed, its row is locked."""
    query = sa.select(webhook_endpoint).where(_TABLE.site_id == of, _TABLE.id == name)
    if to_change and connection.dialect.name != "sqlite":
        query = query.with_for_update()
    row = connection.execute(query).first()
    return None if row is None else _endpoint(row)


def get_endpoint(
    connection: sa.Connection, of: str, name: str, *, to_change: bool = False
) -> Endpoint:
    """The endpoint.

    Raises:
        UnknownError: there is none.
    """
    found = find_endpoint(connection, of, name, to_change=to_change)
    if found is None:
        raise UnknownError("webhook", name)
    return found


def list_endpoints(connection: sa.Connection, of: str, place: Place) -> Page[Endpoint]:
    """Endpoints of the site, by id."""
    query = sa.select(webhook_endpoint).where(_TABLE.site_id == of)
    return page_of(connection, query, _TABLE.id, place, _endpoint)


def count_endpoints(connection: sa.Connection, of: str) -> int:
    """How many the site has."""
    query = sa.select(sa.func.count()).where(_TABLE.site_id == of)
    return int(connection.execute(query).scalar_one())


def open_endpoints(connection: sa.Connection, of: str) -> tuple[Endpoint, ...]:
    """Endpoints of the site that messages are sent to."""
    query = sa.select(webhook_endpoint).where(_TABLE.site_id == of, _TABLE.stopped_at.is_(None))
    return tuple(map(_endpoint, connection.execute(query.order_by(_TABLE.id))))


def save_endpoint(connection: sa.Connection, of: str, saved: Endpoint) -> None:
    """Write a new endpoint, or a new version of one."""
    values = {name: getattr(saved, name) for name in _AS_THEY_ARE}
    values["events"] = " ".join(saved.events)
    if saved.version == 1:
        connection.execute(sa.insert(webhook_endpoint).values(site_id=of, **values))
        return
    same = (_TABLE.site_id == of, _TABLE.id == saved.id)
    connection.execute(sa.update(webhook_endpoint).where(*same).values(**values))


def delete_endpoint(connection: sa.Connection, of: str, name: str) -> None:
    """Remove an endpoint with its messages, those that wait among them."""
    for table in (webhook_delivery, webhook_notice):
        connection.execute(
            sa.delete(table).where(table.c.site_id == of, table.c.endpoint_id == name)
        )
    connection.execute(sa.delete(webhook_endpoint).where(_TABLE.site_id == of, _TABLE.id == name))


def _endpoint(row: Any) -> Endpoint:  # noqa: ANN401 - a row
    members = {name: getattr(row, name) for name in _AS_THEY_ARE}
    return Endpoint(**members, events=_known(row.events))


def _known(names: str) -> tuple[EventType, ...]:
    """Those that this version knows, in one order."""
    return tuple(each for each in EVENT_TYPES if each in names.split())
