"""Answers to the requests of a batch: each is kept once, and read in order."""

from collections.abc import Sequence
from typing import Final

import sqlalchemy as sa
from msgspec import Struct
from sqlalchemy.dialects import postgresql, sqlite

from wrung_service.store.batches.chunks import BegunChunk, Item
from wrung_service.store.tables import batch_answer, batch_item

MOST_LINES: Final = 50
"""Read at one time: an answer may be long."""


class Answered(Struct, frozen=True, kw_only=True):
    """An answer: its line of the results, and whether it is a problem."""

    position: int
    line: str
    failed: bool


class Line(Struct, frozen=True, kw_only=True):
    """A line of the results."""

    position: int
    line: str


def unanswered(connection: sa.Connection, chunk: BegunChunk) -> Sequence[Item]:
    """The requests of a chunk that have no answer yet, in order."""
    answer = sa.exists().where(
        batch_answer.c.batch_id == batch_item.c.batch_id,
        batch_answer.c.position == batch_item.c.position,
    )
    query = (
        sa.select(batch_item.c.position, batch_item.c.request)
        .where(
            batch_item.c.batch_id == chunk.batch,
            batch_item.c.position.between(chunk.first, chunk.last),
            ~answer,
        )
        .order_by(batch_item.c.position)
    )
    return [
        Item(batch=chunk.batch, position=row.position, request=row.request)
        for row in connection.execute(query)
    ]


def add_answers(
    connection: sa.Connection, name: str, answers: Sequence[Answered]
) -> Sequence[Answered]:
    """Keep answers; those of them that are the first to their requests, as others are dropped."""
    on_sqlite = connection.dialect.name == "sqlite"
    insert = (sqlite.insert if on_sqlite else postgresql.insert)(batch_answer)
    rows = [{"batch_id": name, "position": e.position, "line": e.line} for e in answers]
    added = connection.execute(
        insert.values(rows).on_conflict_do_nothing().returning(batch_answer.c.position)
    )
    first = set(added.scalars())
    return [each for each in answers if each.position in first]


def lines_after(
    connection: sa.Connection, name: str, after: int, *, with_gaps: bool
) -> Sequence[Line]:
    """Lines of the results behind a position, some at a time.

    Args:
        connection: of a transaction.
        name: the batch.
        after: the position; -1 for all.
        with_gaps: whether a request without an answer is left out, rather than waited for.
    """
    table = batch_answer.c
    query = (
        sa.select(table.position, table.line)
        .where(table.batch_id == name, table.position > after)
        .order_by(table.position)
        .limit(MOST_LINES)
    )
    rows = connection.execute(query).all()
    return [
        Line(position=row.position, line=row.line)
        for place, row in enumerate(rows, after + 1)
        if with_gaps or row.position == place
    ]
