"""Rows for every table that a database has, whatever its revision: made from what is there."""

import re
from datetime import UTC, date, datetime, timedelta
from typing import Any, Final

import sqlalchemy as sa
from sqlalchemy import schema

from wrung_service.store.history import BEGINNING, Event, hash_of

NUMBER: Final = 3
"""Rows of each table."""
SITE: Final = "id-0"
_START: Final = datetime(2027, 3, 1, 8, tzinfo=UTC)
_INSTANT_LENGTH: Final = 27
_KNOWN: Final = {"unit": "mm", "time_zone": "Europe/Berlin", "role": "gauge", "scopes": "read"}
_OF_OTHERS: Final = ("alembic_", "procrastinate_", "idx_procrastinate_")


def is_ours(name: str | None) -> bool:
    """Whether a table or index is described by our tables."""
    return name is None or not name.startswith(_OF_OTHERS)


def reflected(connection: sa.Connection) -> list[sa.Table]:
    """The tables of the database as it says itself, each after those it refers to."""
    metadata = sa.MetaData()
    metadata.reflect(connection)
    return [each for each in metadata.sorted_tables if is_ours(each.name)]


def fill(connection: sa.Connection) -> None:
    """Some rows in every table, with a value in every column."""
    made: dict[str, list[dict[str, Any]]] = {}
    for table in reflected(connection):
        rows = _history(table) if table.name == "history" else _rows(table, made)
        connection.execute(sa.insert(table), rows)
        made[table.name] = rows


def contents(connection: sa.Connection) -> dict[str, dict[str, list[str]]]:
    """What stands in each column of each table, in a fixed order of its rows."""
    found: dict[str, dict[str, list[str]]] = {}
    for table in reflected(connection):
        rows = connection.execute(sa.select(table).order_by(*table.primary_key)).mappings().all()
        found[table.name] = {
            column.name: [str(row[column.name]) for row in rows] for column in table.columns
        }
    return found


def _rows(table: sa.Table, made: dict[str, list[dict[str, Any]]]) -> list[dict[str, Any]]:
    referred = {
        element.parent.name: (element.column.table.name, element.column.name)
        for constraint in table.foreign_key_constraints
        for element in constraint.elements
    }
    allowed = _allowed(table)
    rows: list[dict[str, Any]] = []
    for number in range(NUMBER):
        row: dict[str, Any] = {}
        for place, column in enumerate(table.columns):
            if _is_counted(table, column):
                continue
            if column.name in referred:
                other, name = referred[column.name]
                row[column.name] = made[other][number][name]
            else:
                row[column.name] = allowed.get(column.name) or _value(column, place, number)
        rows.append(row)
    return rows


def _is_counted(table: sa.Table, column: sa.Column[Any]) -> bool:
    """Whether the database numbers its rows by itself."""
    alone = len(table.primary_key.columns) == 1
    return alone and column.primary_key and isinstance(column.type, sa.Integer)


def _allowed(table: sa.Table) -> dict[str, str]:
    """By column, the first value that a rule of the table allows."""
    found: dict[str, str] = {}
    for constraint in table.constraints:
        if not isinstance(constraint, schema.CheckConstraint):
            continue
        # As it was written, and as PostgreSQL writes it.
        listed = re.search(
            r"\(*(\w+)\)?(?:::text)? (?:IN|= ANY) .*?'(\w+)'", str(constraint.sqltext)
        )
        if listed:
            found[listed[1]] = listed[2]
    return found


def _value(column: sa.Column[Any], place: int, number: int) -> object:
    instant = _START + timedelta(days=number, hours=place)
    match column.type:
        case sa.DateTime():
            return instant
        case sa.Date():
            return date(2027, 3, 1) + timedelta(days=number)
        case sa.Integer():
            return number + 1
        case sa.Text():
            return "{}"
        case sa.String(length=length) if length == _INSTANT_LENGTH:
            return instant.strftime("%Y-%m-%dT%H:%M:%S.%fZ")
        case sa.String(length=length):
            return _KNOWN.get(column.name, f"{column.name}-{number}")[:length]
        case other:
            raise AssertionError(f"{column}: add a value for {other!r}")


def _history(table: sa.Table) -> list[dict[str, Any]]:
    """A chain of entries that holds."""
    rows, previous = list[dict[str, Any]](), BEGINNING
    for number in range(1, NUMBER + 1):
        at = _START + timedelta(hours=number)
        event = Event(site=SITE, at=at, who="a test", what="block.made", kind="block", subject="b")
        now = hash_of(event, number, previous)
        as_kept = at if isinstance(table.c.at.type, sa.DateTime) else _value(table.c.at, number, 0)
        rows.append(
            {
                "site_id": SITE,
                "number": number,
                "at": as_kept,
                "who": event.who,
                "what": event.what,
                "kind": event.kind,
                "subject": event.subject,
                "detail": "{}",
                "previous": previous,
                "hash": now,
            }
        )
        previous = now
    return rows
