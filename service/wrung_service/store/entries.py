"""Entries of history, looked for by what they are about."""

from collections.abc import Iterable
from datetime import datetime

import sqlalchemy as sa
from msgspec import Struct
from sqlalchemy.sql.elements import ColumnElement

from wrung_service.store.checking import as_entry
from wrung_service.store.history import Entry
from wrung_service.store.tables import history


class EntryFilter(Struct, frozen=True, kw_only=True):
    """Which entries are wanted; None leaves a question open.

    Attributes:
        since: at this moment or later.
        until: before this moment.
    """

    kind: str | None = None
    subject: str | None = None
    job: str | None = None
    who: str | None = None
    since: datetime | None = None
    until: datetime | None = None


def entries_of(
    connection: sa.Connection,
    site: str,
    wanted: EntryFilter,
    *,
    after: int = 0,
    limit: int | None = None,
) -> tuple[Entry, ...]:
    """Entries of a site behind a number, as far as the limit goes; the oldest first."""
    query = (
        sa.select(history)
        .where(history.c.site_id == site, history.c.number > after, *_conditions(wanted))
        .order_by(history.c.number)
        .limit(limit)
    )
    return tuple(map(as_entry, connection.execute(query)))


def last_entries(
    connection: sa.Connection, site: str, wanted: EntryFilter, limit: int
) -> tuple[Entry, ...]:
    """The last entries of a site, the newest first."""
    query = (
        sa.select(history)
        .where(history.c.site_id == site, *_conditions(wanted))
        .order_by(history.c.number.desc())
        .limit(limit)
    )
    return tuple(map(as_entry, connection.execute(query)))


def _conditions(wanted: EntryFilter) -> Iterable[ColumnElement[bool]]:
    for name in ("kind", "subject", "job", "who"):
        if (value := getattr(wanted, name)) is not None:
            yield history.c[name] == value
    if wanted.since is not None:
        yield history.c.at >= wanted.since
    if wanted.until is not None:
        yield history.c.at < wanted.until
