"""Who may do what."""

from typing import Final

import sqlalchemy as sa

from wrung_service.store.tables.base import NAME, metadata, moment, text

api_key: Final = sa.Table(
    "api_key",
    metadata,
    # The prefix: it is shown and logged, and finds the row; the rest is known only as a hash.
    sa.Column("id", NAME, primary_key=True),
    text("holder", sa.String(200)),
    # None: every site.
    sa.Column("site_id", NAME, sa.ForeignKey("site.id"), nullable=True),
    text("scopes", sa.String(200)),
    text("hash", sa.String(64)),
    moment("made_at"),
    text("made_by"),
    moment("expires_at", null=True),
    moment("revoked_at", null=True),
    moment("used_at", null=True),
    sa.Index("ix_api_key_holder", "holder"),
)
