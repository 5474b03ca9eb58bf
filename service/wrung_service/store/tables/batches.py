"""Many requests answered in the background: batches, their requests, and the answers."""

from typing import Final

import sqlalchemy as sa

from wrung_service.store.tables.base import (
    ID,
    NAME,
    metadata,
    moment,
    row_number,
    text,
    whole,
)

_GOING_ON: Final = sa.text("ended_at IS NULL")
_OPEN: Final = sa.text("state <> 'done'")

batch: Final = sa.Table(
    "batch",
    metadata,
    sa.Column("id", ID, primary_key=True),
    # None: it is only for whoever posted it.
    sa.Column("site_id", NAME, sa.ForeignKey("site.id"), nullable=True),
    text("state", sa.String(16)),
    whole("total"),
    whole("answered", default="0"),
    # Of these, the ones whose answer is a problem.
    whole("failed", default="0"),
    moment("made_at"),
    text("made_by"),
    # The sites that its requests may look into, as JSON; None for all.
    text("sites", sa.Text(), null=True),
    text("request_id", NAME),
    # Of its problems.
    sa.Column("language", sa.String(2), nullable=False, server_default="en"),
    moment("ended_at", null=True),
    # When it ends unfinished; once it has ended, when it is removed.
    moment("expires_at"),
    sa.CheckConstraint(
        "state IN ('waiting', 'running', 'done', 'cancelled', 'expired')", name="state"
    ),
    sa.Index("ix_batch_expiry", "expires_at"),
    sa.Index("ix_batch_made", "made_at", "id"),
    sa.Index(
        "ix_batch_going_on",
        "made_by",
        sqlite_where=_GOING_ON,
        postgresql_where=_GOING_ON,
    ),
)

batch_item: Final = sa.Table(
    "batch_item",
    metadata,
    text("batch_id"),
    whole("position"),
    text("request", sa.Text()),
    # How many workers began it alone and may have died of it.
    whole("tries", default="0"),
    sa.PrimaryKeyConstraint("batch_id", "position"),
    sa.ForeignKeyConstraint(["batch_id"], ["batch.id"]),
)

batch_answer: Final = sa.Table(
    "batch_answer",
    metadata,
    text("batch_id"),
    whole("position"),
    # One line of the results. The primary key says "once" to all workers.
    text("line", sa.Text()),
    sa.PrimaryKeyConstraint("batch_id", "position"),
    sa.ForeignKeyConstraint(
        ["batch_id", "position"], ["batch_item.batch_id", "batch_item.position"]
    ),
)

batch_chunk: Final = sa.Table(
    "batch_chunk",
    metadata,
    row_number(),
    text("batch_id"),
    # Positions of its first and last request.
    whole("first"),
    whole("last"),
    # Chunks of lower turns go first, so that batches take turns.
    whole("turn"),
    text("state", sa.String(16)),
    # How often a worker began it; once it gave it back in good order, that does not count.
    whole("attempts", default="0"),
    # Who works on it; on SQLite, until when nobody else does.
    text("owner", NAME, null=True),
    moment("lease_until", null=True),
    sa.ForeignKeyConstraint(["batch_id"], ["batch.id"]),
    sa.CheckConstraint("state IN ('waiting', 'doing', 'done')", name="state"),
    sa.Index("uq_batch_chunk_first", "batch_id", "first", unique=True),
    sa.Index("ix_batch_chunk_open", "turn", "n", sqlite_where=_OPEN, postgresql_where=_OPEN),
    sqlite_autoincrement=True,
)
