"""Answers by the key that a client chose, so that a repeated request does not happen twice."""

from datetime import datetime, timedelta
from typing import Final

import sqlalchemy as sa
from msgspec import Struct
from sqlalchemy.dialects import postgresql, sqlite

from wrung_service.store.errors import KeyReusedError
from wrung_service.store.tables import idempotency_key

DAYS_KEPT: Final = 30
"""How long an answer is kept for its key."""


class Key(Struct, frozen=True, kw_only=True):
    """Whose key it is, and the fingerprint of the request that came with it."""

    caller: str
    key: str
    fingerprint: str


class KeptAnswer(Struct, frozen=True, kw_only=True):
    """What was answered to the first request with a key."""

    status: int
    location: str | None
    body: str


class AnsweredError(Exception):
    """A request with the same key was answered meanwhile."""

    def __init__(self, answer: KeptAnswer) -> None:
        super().__init__("answered already")
        self.answer = answer


def kept_answer(connection: sa.Connection, key: Key) -> KeptAnswer | None:
    """The answer to the first request with the key; None if there was none.

    Raises:
        KeyReusedError: the key came with another request.
    """
    table = idempotency_key.c
    query = sa.select(table.fingerprint, table.status, table.location, table.body).where(
        table.caller == key.caller, table.key == key.key
    )
    row = connection.execute(query).first()
    if row is None:
        return None
    if row.fingerprint != key.fingerprint:
        raise KeyReusedError
    return KeptAnswer(status=row.status, location=row.location, body=row.body)


def keep_answer(connection: sa.Connection, key: Key, answer: KeptAnswer, now: datetime) -> None:
    """Keep an answer, first of all in its transaction: whoever sends the same key waits here.

    Raises:
        AnsweredError: another was faster with the same request.
        KeyReusedError: another was faster with the same key.
    """
    on_sqlite = connection.dialect.name == "sqlite"
    insert = (sqlite.insert if on_sqlite else postgresql.insert)(idempotency_key)
    values = {
        "caller": key.caller,
        "key": key.key,
        "fingerprint": key.fingerprint,
        "status": answer.status,
        "location": answer.location,
        "body": answer.body,
        "at": now,
    }
    claimed = connection.execute(
        insert.on_conflict_do_nothing().returning(idempotency_key.c.key), values
    ).first()
    if claimed is None and (kept := kept_answer(connection, key)) is not None:
        raise AnsweredError(kept)
    # Here, as this is what makes them more.
    old = idempotency_key.c.at < now - DAYS_KEPT * timedelta(days=1)
    connection.execute(sa.delete(idempotency_key).where(old))
