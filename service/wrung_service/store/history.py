"""The one way to write history: an entry for everything that changes, in the change's transaction.

The entries of a site are a chain: each has the hash of the one before it, so that nobody can take
one out, or change one, without every later hash being wrong.
"""

from hashlib import sha256
from typing import Any, Final

import msgspec
import rfc8785
import sqlalchemy as sa

from wrung_service.store.happened import Event
from wrung_service.store.instants import as_text
from wrung_service.store.tables import history, site
from wrung_service.store.webhooks.outbox import tell

__all__ = ["BEGINNING", "Entry", "Event", "append", "hash_of"]

BEGINNING: Final = "0" * 64
"""Stands for the hash before the first entry of a site."""


class Entry(Event, frozen=True, kw_only=True):
    """An event as it was written down; ``number`` counts from 1 in each site."""

    number: int
    previous: str
    hash: str


def append(connection: sa.Connection, *events: Event) -> None:
    """Write events of one site down, and to webhooks, after all else that the transaction locks.

    Two transactions of a site take turns from here until they commit.
    """
    number, previous = _last(connection, events[0].site)
    rows: list[dict[str, Any]] = []
    for event in events:
        number += 1
        entry_hash = hash_of(event, number, previous)
        rows.append(_row(event, number, previous, entry_hash))
        previous = entry_hash
    connection.execute(sa.insert(history), rows)
    # Here, so that nothing that is written down is ever forgotten, or told if it is undone.
    tell(connection, events)


def hash_of(event: Event, number: int, previous: str) -> str:
    """SHA-256, in hex, of the entry's canonical JSON (RFC 8785), which has the hash before it."""
    members: dict[str, Any] = {
        "site": event.site,
        "number": number,
        "at": as_text(event.at),
        "who": event.who,
        "what": event.what,
        "kind": event.kind,
        "subject": event.subject,
        "why": event.why,
        "job": event.job,
        "detail": dict(event.detail),
        "previous": previous,
    }
    return sha256(rfc8785.dumps(members)).hexdigest()


def _last(connection: sa.Connection, of: str) -> tuple[int, str]:
    """Number and hash of the last entry, which stays the last until the transaction ends."""
    if connection.dialect.name != "sqlite":
        # Not for update, which would hold up whoever only refers to the site.
        held = sa.select(site.c.id).where(site.c.id == of).with_for_update(key_share=True)
        connection.execute(held)
    last = (
        sa.select(history.c.number, history.c.hash)
        .where(history.c.site_id == of)
        .order_by(history.c.number.desc())
        .limit(1)
    )
    row = connection.execute(last).first()
    return (0, BEGINNING) if row is None else (row.number, row.hash)


def _row(event: Event, number: int, previous: str, entry_hash: str) -> dict[str, Any]:
    return {
        "site_id": event.site,
        "number": number,
        "at": event.at,
        "who": event.who,
        "what": event.what,
        "why": event.why,
        "kind": event.kind,
        "subject": event.subject,
        "job": event.job,
        "detail": msgspec.json.encode(event.detail).decode(),
        "previous": previous,
        "hash": entry_hash,
    }
