"""Chunks: some requests of a batch that one worker answers one after another."""

from collections.abc import Collection, Sequence
from datetime import datetime, timedelta
from typing import Any, Final

import sqlalchemy as sa
from msgspec import Struct

from wrung_service.store.tables import batch, batch_chunk, batch_item

CHUNK: Final = 20
"""Requests in a chunk: handing each over by itself would cost ten times as much."""
_TABLE: Final = batch_chunk.c


class Chunk(Struct, frozen=True, kw_only=True):
    """Requests of a batch from the first position to the last; lower turns go first."""

    batch: str
    first: int
    last: int
    turn: int


class BegunChunk(Struct, frozen=True, kw_only=True):
    """A chunk that a worker has begun.

    Attributes:
        attempts: how often it was begun and not given back in good order, this time included.
    """

    n: int
    batch: str
    first: int
    last: int
    attempts: int


class Item(Struct, frozen=True, kw_only=True):
    """A request of a batch, as JSON."""

    batch: str
    position: int
    request: str


def add_chunks(
    connection: sa.Connection, name: str, ends: Sequence[tuple[int, int]]
) -> Sequence[Chunk]:
    """Write the chunks of a new batch, from the turn on that others have come to.

    So two batches take turns from then on: the new one neither waits for the end of the other, nor
    goes before it until it has caught up.
    """
    open_ones = sa.select(sa.func.min(_TABLE.turn)).where(_TABLE.state != "done")
    begin = connection.execute(open_ones).scalar_one() or 0
    chunks = [
        Chunk(batch=name, first=first, last=last, turn=begin + place)
        for place, (first, last) in enumerate(ends)
    ]
    rows = [
        {
            "batch_id": name,
            "first": each.first,
            "last": each.last,
            "turn": each.turn,
            "state": "waiting",
        }
        for each in chunks
    ]
    connection.execute(sa.insert(batch_chunk), rows)
    return chunks


def begin_chunk(connection: sa.Connection, name: str, first: int, owner: str) -> BegunChunk | None:
    """Note which worker begins a chunk, before it does: so its death is remembered.

    None: there is nothing left of it to do.
    """
    # The batch before the chunk, in the order in which whoever ends it locks them.
    _note_begun(connection, name)
    same = (_TABLE.batch_id == name, _TABLE.first == first, _TABLE.state != "done")
    return _begun(connection, same, {"owner": owner})


def take_chunk(
    connection: sa.Connection, owner: str, now: datetime, lease: timedelta
) -> BegunChunk | None:
    """Begin the next chunk that waits, or whose lease has run out; None if there is none.

    Of a transaction that writes, on SQLite: two of them never run at one time.
    """
    lost = sa.and_(_TABLE.state == "doing", _TABLE.lease_until < now)
    query = (
        sa.select(_TABLE.n)
        .where(_TABLE.state != "done", sa.or_(_TABLE.state == "waiting", lost))
        .order_by(_TABLE.turn, _TABLE.n)
        .limit(1)
    )
    number = connection.execute(query).scalar_one_or_none()
    if number is None:
        return None
    begun = _begun(connection, (_TABLE.n == number,), {"owner": owner, "lease_until": now + lease})
    if begun is not None:
        _note_begun(connection, begun.batch)
    return begun


def any_to_take(connection: sa.Connection, now: datetime) -> bool:
    """Whether there is such a chunk; reading holds nobody up."""
    lost = sa.and_(_TABLE.state == "doing", _TABLE.lease_until < now)
    found = sa.select(_TABLE.n).where(
        _TABLE.state != "done", sa.or_(_TABLE.state == "waiting", lost)
    )
    return connection.execute(found.limit(1)).first() is not None


def any_open(connection: sa.Connection) -> bool:
    """Whether there is a chunk that is not done."""
    found = sa.select(_TABLE.n).where(_TABLE.state != "done")
    return connection.execute(found.limit(1)).first() is not None


def renew_leases(
    connection: sa.Connection, owner: str, held: Collection[int], until: datetime
) -> None:
    """Hold on to those of these chunks that the owner has still."""
    own = (_TABLE.n.in_(held), _TABLE.state == "doing", _TABLE.owner == owner)
    connection.execute(sa.update(batch_chunk).where(*own).values(lease_until=until))


def end_leases(connection: sa.Connection, owner: str, now: datetime) -> None:
    """Let others have at once what an owner has that is dead."""
    own = (_TABLE.state == "doing", _TABLE.owner == owner)
    connection.execute(sa.update(batch_chunk).where(*own).values(lease_until=now))


def finish_chunk(connection: sa.Connection, chunk: BegunChunk) -> None:
    """Note that every request of it has its answer."""
    connection.execute(_of(chunk).values(state="done"))


def give_back(connection: sa.Connection, chunk: BegunChunk) -> None:
    """Leave a chunk to others in good order: it was no attempt that failed."""
    open_one = _of(chunk).where(_TABLE.state != "done")
    connection.execute(open_one.values(state="waiting", attempts=_TABLE.attempts - 1))


def _note_begun(connection: sa.Connection, name: str) -> None:
    waits = (batch.c.id == name, batch.c.state == "waiting")
    connection.execute(sa.update(batch).where(*waits).values(state="running"))


def _of(chunk: BegunChunk) -> sa.Update:
    return sa.update(batch_chunk).where(_TABLE.n == chunk.n)


def _begun(
    connection: sa.Connection, same: Sequence[sa.ColumnElement[bool]], values: dict[str, Any]
) -> BegunChunk | None:
    row = connection.execute(
        sa.update(batch_chunk)
        .where(*same)
        .values(state="doing", attempts=_TABLE.attempts + 1, **values)
        .returning(_TABLE.n, _TABLE.batch_id, _TABLE.first, _TABLE.last, _TABLE.attempts)
    ).first()
    return None if row is None else _chunk(*row)


def _chunk(n: int, name: str, first: int, last: int, attempts: int) -> BegunChunk:
    return BegunChunk(n=n, batch=name, first=first, last=last, attempts=attempts)


def count_try(connection: sa.Connection, item: Item) -> int:
    """Note that a worker begins a request alone, before it does; how often that was so."""
    return int(connection.execute(_changed_tries(item, 1)).scalar_one())


def uncount_try(connection: sa.Connection, item: Item) -> None:
    """The worker left it in good order."""
    connection.execute(_changed_tries(item, -1))


def _changed_tries(item: Item, by: int) -> Any:  # noqa: ANN401 - an update that returns
    return (
        sa.update(batch_item)
        .where(batch_item.c.batch_id == item.batch, batch_item.c.position == item.position)
        .values(tries=batch_item.c.tries + by)
        .returning(batch_item.c.tries)
    )
