"""What of a database can be checked without trusting those who wrote it."""

from collections.abc import Iterator, Sequence
from datetime import UTC, datetime
from typing import Any, Final

import msgspec
import sqlalchemy as sa

from wrung_service.store.history import BEGINNING, Entry, hash_of
from wrung_service.store.tables import history, promise, site

_ROWS_AT_A_TIME = 1000


def overlaps(connection: sa.Connection) -> tuple[str, ...]:
    """Each pair of open promises that hold one block at one time; looked up without any rule."""
    one, other = promise.alias(), promise.alias()
    query = (
        sa.select(one.c.block_id, one.c.n, one.c.plan_id, other.c.n, other.c.plan_id)
        .join(
            other,
            sa.and_(
                one.c.site_id == other.c.site_id,
                one.c.block_id == other.c.block_id,
                one.c.n < other.c.n,
                one.c.starts_at < other.c.ends_at,
                other.c.starts_at < one.c.ends_at,
            ),
        )
        .where(one.c.released_at.is_(None), other.c.released_at.is_(None))
        .order_by(one.c.n, other.c.n)
    )
    return tuple(
        f"{block} in promise {first} of plan {plan} and {second} of plan {other_plan}"
        for block, first, plan, second, other_plan in connection.execute(query)
    )


def damage(connection: sa.Connection) -> tuple[str, ...]:
    """What SQLite finds wrong with its file; PostgreSQL checks its pages by itself."""
    if connection.dialect.name != "sqlite":
        return ()
    said = connection.exec_driver_sql("PRAGMA integrity_check").scalars().all()
    faults = [str(each) for each in said if each != "ok"]
    loose = connection.exec_driver_sql("PRAGMA foreign_key_check").all()
    return (*faults, *(f"a row of {row[0]} refers to nothing" for row in loose))


def can_change_history(connection: sa.Connection) -> bool:
    """Whether the role of PostgreSQL that this is could switch off what keeps history as it is.

    Of SQLite, whoever can open the file can: there it is the rights to the file that count.
    """
    if connection.dialect.name == "sqlite":
        return False
    return bool(connection.exec_driver_sql(_MIGHTY).scalar_one())


_MIGHTY: Final = """
SELECT has_table_privilege('history', 'UPDATE') OR pg_has_role(relowner, 'MEMBER')
  FROM pg_class WHERE oid = to_regclass('history')
"""


def clock_of(connection: sa.Connection) -> datetime:
    """What time the database has."""
    if connection.dialect.name == "sqlite":
        return datetime.now(UTC)
    said: datetime = connection.execute(sa.select(sa.func.clock_timestamp())).scalar_one()
    return said


def version_of(connection: sa.Connection) -> str:
    """Name and version of the database program."""
    if connection.dialect.name == "sqlite":
        return f"SQLite {connection.exec_driver_sql('SELECT sqlite_version()').scalar_one()}"
    return f"PostgreSQL {connection.exec_driver_sql('SHOW server_version').scalar_one()}"


def every_site(connection: sa.Connection) -> tuple[str, ...]:
    """Ids of all sites."""
    return tuple(connection.scalars(sa.select(site.c.id).order_by(site.c.id)))


def entries(connection: sa.Connection, of: str) -> Iterator[Entry]:
    """The whole history of a site, the oldest entry first, a part of it in memory at a time."""
    last = 0
    while rows := _entries_after(connection, of, last):
        yield from map(as_entry, rows)
        last = rows[-1].number


def _entries_after(connection: sa.Connection, of: str, number: int) -> Sequence[sa.Row[Any]]:
    query = (
        sa.select(history)
        .where(history.c.site_id == of, history.c.number > number)
        .order_by(history.c.number)
        .limit(_ROWS_AT_A_TIME)
    )
    return connection.execute(query).all()


def as_entry(row: sa.Row[Any]) -> Entry:
    """A row of the table, as an entry."""
    return Entry(
        site=row.site_id,
        number=row.number,
        at=row.at,
        who=row.who,
        what=row.what,
        why=row.why,
        kind=row.kind,
        subject=row.subject,
        job=row.job,
        detail=msgspec.json.decode(row.detail),
        previous=row.previous,
        hash=row.hash,
    )


def broken_at(connection: sa.Connection, of: str) -> int | None:
    """The number of the first entry that is not what was written, or is missing; None if none is.

    The end of a chain cannot be told from its rows: compare its last hash with one noted elsewhere.
    """
    previous = BEGINNING
    for number, entry in enumerate(entries(connection, of), 1):
        right = hash_of(entry, number, previous)
        if (entry.number, entry.previous, entry.hash) != (number, previous, right):
            return number
        previous = entry.hash
    return None
