"""Batches as a whole: made, read, ended and removed."""

from collections.abc import Sequence
from datetime import datetime
from typing import Final, Literal, TypeAlias

import msgspec
import sqlalchemy as sa
from msgspec import Struct

from wrung_service.store.batches.chunks import CHUNK, Chunk, add_chunks
from wrung_service.store.errors import UnknownError
from wrung_service.store.tables import batch, batch_answer, batch_chunk, batch_item

Language: TypeAlias = Literal["en", "de"]
BatchState: TypeAlias = Literal["waiting", "running", "done", "cancelled", "expired"]
"""No worker has begun it; one has; every request is answered; somebody, or its time, ended it."""
_ROWS: Final = 500
"""Requests written by one statement."""
_REMOVED: Final = 20
"""Batches removed by one transaction, so that it does not hold up others for long."""


class Batch(Struct, frozen=True, kw_only=True):
    """Requests that are answered in the background.

    Attributes:
        site_id: whoever sees the site sees the batch; None: only whoever posted it does.
        total: how many requests.
        answered: how many of them have an answer.
        failed: how many of these answers are problems.
        sites: the sites that its requests may look into, as JSON; None for all.
        request_id: of the request that posted it.
        language: of the problems among its answers.
        expires_at: when it ends unfinished; once it has ended, when it is removed.
    """

    id: str
    site_id: str | None
    state: BatchState
    total: int
    answered: int = 0
    failed: int = 0
    made_at: datetime
    made_by: str
    sites: str | None
    request_id: str
    language: Language = "en"
    ended_at: datetime | None = None
    expires_at: datetime

    @property
    def going_on(self) -> bool:
        """Whether further answers may come."""
        return self.ended_at is None


class BatchFilter(Struct, frozen=True, kw_only=True):
    """Which batches are listed.

    Attributes:
        by: whose batches of no site.
        sites: of which sites; None for all.
        site: of this one only.
        after: behind the batch that was made then, and has this id.
    """

    by: str
    sites: frozenset[str] | None
    site: str | None = None
    state: BatchState | None = None
    after: tuple[datetime, str] | None = None
    limit: int


class Waiting(Struct, frozen=True, kw_only=True):
    """What waits for workers, or is with them.

    Attributes:
        since: when the oldest of these batches was made; None if there is none.
    """

    batches: int
    requests: int
    since: datetime | None


def add_batch(connection: sa.Connection, new: Batch, requests: Sequence[str]) -> Sequence[Chunk]:
    """Keep a batch with its requests, as JSON; the chunks that workers take it in."""
    values = {name: getattr(new, name) for name in Batch.__struct_fields__}
    connection.execute(sa.insert(batch), values)
    for first in range(0, len(requests), _ROWS):
        rows = [
            {"batch_id": new.id, "position": first + place, "request": each}
            for place, each in enumerate(requests[first : first + _ROWS])
        ]
        connection.execute(sa.insert(batch_item), rows)
    ends = [
        (first, min(first + CHUNK, len(requests)) - 1) for first in range(0, len(requests), CHUNK)
    ]
    return add_chunks(connection, new.id, ends)


def find_batch(connection: sa.Connection, name: str, *, to_change: bool = False) -> Batch | None:
    """The batch of that id; None if there is none. To be changed, its row is locked."""
    query = sa.select(batch).where(batch.c.id == name)
    # SQLite has one writer at a time, and leaves that out.
    row = connection.execute(query.with_for_update() if to_change else query).first()
    return None if row is None else _read(row)


def get_batch(connection: sa.Connection, name: str, *, to_change: bool = False) -> Batch:
    """The same.

    Raises:
        UnknownError: there is none.
    """
    found = find_batch(connection, name, to_change=to_change)
    if found is None:
        raise UnknownError("batch", name)
    return found


def list_batches(connection: sa.Connection, wanted: BatchFilter) -> Sequence[Batch]:
    """Some batches, the newest first."""
    seen = batch.c.site_id.is_not(None)
    if wanted.sites is not None:
        seen = batch.c.site_id.in_(wanted.sites)
    own = sa.and_(batch.c.site_id.is_(None), batch.c.made_by == wanted.by)
    query = sa.select(batch).where(sa.or_(own, seen))
    if wanted.site is not None:
        query = query.where(batch.c.site_id == wanted.site)
    if wanted.state is not None:
        query = query.where(batch.c.state == wanted.state)
    if wanted.after is not None:
        at, name = wanted.after
        sooner = sa.and_(batch.c.made_at == at, batch.c.id < name)
        # The first of the two says nothing new, but an index can begin there.
        query = query.where(batch.c.made_at <= at, sa.or_(batch.c.made_at < at, sooner))
    newest = query.order_by(batch.c.made_at.desc(), batch.c.id.desc())
    return [_read(row) for row in connection.execute(newest.limit(wanted.limit))]


def count_answers(connection: sa.Connection, name: str, answered: int, failed: int) -> None:
    """Note how many answers came to it just now."""
    more = {"answered": batch.c.answered + answered, "failed": batch.c.failed + failed}
    connection.execute(sa.update(batch).where(batch.c.id == name).values(more))


def end_batch(
    connection: sa.Connection, name: str, state: BatchState, now: datetime, keep_until: datetime
) -> None:
    """Note that no further answer comes to it; what is left of it goes to no worker."""
    connection.execute(
        sa.update(batch)
        .where(batch.c.id == name)
        .values(state=state, ended_at=now, expires_at=keep_until)
    )
    open_ones = (batch_chunk.c.batch_id == name, batch_chunk.c.state != "done")
    connection.execute(sa.update(batch_chunk).where(*open_ones).values(state="done"))


def expired(connection: sa.Connection, now: datetime) -> Sequence[Batch]:
    """Batches whose time has come: to end if they go on, to be removed if they have ended."""
    query = sa.select(batch).where(batch.c.expires_at <= now).order_by(batch.c.expires_at)
    rows = connection.execute(query.limit(_REMOVED))
    return [_read(row) for row in rows]


def _read(row: object) -> Batch:
    return msgspec.convert(row, Batch, from_attributes=True)


def remove_batches(connection: sa.Connection, names: Sequence[str]) -> None:
    """Remove batches with requests and answers."""
    for table in (batch_answer, batch_chunk, batch_item):
        connection.execute(sa.delete(table).where(table.c.batch_id.in_(names)))
    connection.execute(sa.delete(batch).where(batch.c.id.in_(names)))


def waiting(connection: sa.Connection, of: str | None = None) -> Waiting:
    """What waits for workers, or is with them: of everybody, or of whoever posted it."""
    counted = (
        sa.func.count(),
        sa.func.coalesce(sa.func.sum(batch.c.total - batch.c.answered), 0),
        sa.func.min(batch.c.made_at),
    )
    query = sa.select(*counted).where(batch.c.ended_at.is_(None))
    if of is not None:
        query = query.where(batch.c.made_by == of)
    batches, requests, since = connection.execute(query).one()
    return Waiting(batches=batches, requests=int(requests), since=since)


def ended_among(connection: sa.Connection, names: Sequence[str]) -> frozenset[str]:
    """Which of these batches have ended, or are gone."""
    query = sa.select(batch.c.id).where(batch.c.id.in_(names), batch.c.ended_at.is_(None))
    return frozenset(names) - set(connection.scalars(query))


def incomplete(connection: sa.Connection) -> Sequence[str]:
    """Ids of batches that are said to be done, and lack answers or have them counted wrong."""
    answers = (
        sa.select(sa.func.count()).where(batch_answer.c.batch_id == batch.c.id).scalar_subquery()
    )
    wrong = sa.or_(batch.c.answered != answers, batch.c.answered != batch.c.total)
    query = sa.select(batch.c.id).where(batch.c.state == "done", wrong).order_by(batch.c.id)
    return connection.scalars(query).all()
