"""What happened, and what was answered to whom."""

from typing import Final

import sqlalchemy as sa

from wrung_service.store.tables.base import (
    ID,
    NAME,
    metadata,
    moment,
    of_site,
    row_number,
    text,
    whole,
)

history: Final = sa.Table(
    "history",
    metadata,
    row_number(),
    of_site(),
    # Counted from 1 for each site; each entry holds the hash of the one before it.
    whole("number"),
    moment("at"),
    text("who"),
    text("what", NAME),
    text("why", sa.String(1000), null=True),
    # Kind and id of what it is about, such as ``block`` and ``bench-3/1.005``.
    text("kind", sa.String(16)),
    text("subject"),
    text("job", ID, null=True),
    text("detail", sa.Text()),
    text("previous", sa.String(64)),
    text("hash", sa.String(64)),
    sa.UniqueConstraint("site_id", "number"),
    sa.Index("ix_history_subject", "site_id", "kind", "subject"),
    sa.Index("ix_history_job", "site_id", "job"),
    sqlite_autoincrement=True,
)

idempotency_key: Final = sa.Table(
    "idempotency_key",
    metadata,
    text("caller"),
    text("key", sa.String(255)),
    # Of method, path and body: the same key with another request is a mistake.
    text("fingerprint", sa.String(64)),
    sa.Column("status", sa.Integer, nullable=False),
    text("location", sa.String(500), null=True),
    text("body", sa.Text()),
    moment("at"),
    sa.PrimaryKeyConstraint("caller", "key"),
    sa.Index("ix_idempotency_key_at", "at"),
)
