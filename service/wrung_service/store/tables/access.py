"""Who may do what, and who is told what happened."""

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

webhook_endpoint: Final = sa.Table(
    "webhook_endpoint",
    metadata,
    of_site(),
    text("id", NAME),
    text("url", sa.String(2000)),
    text("secret", sa.String(200)),
    # Names of events with spaces between them.
    text("events", sa.String(500)),
    moment("made_at"),
    moment("stopped_at", null=True),
    whole("version", default="1"),
    sa.PrimaryKeyConstraint("site_id", "id"),
)

webhook_delivery: Final = sa.Table(
    "webhook_delivery",
    metadata,
    row_number(),
    of_site(),
    text("endpoint_id", NAME),
    # The same for every try, so that the receiver can tell repeats.
    text("message_id", ID),
    text("event", NAME),
    text("body", sa.Text()),
    moment("made_at"),
    moment("next_try_at", null=True),
    whole("tries", default="0"),
    moment("delivered_at", null=True),
    sa.Column("status", sa.Integer, nullable=True),
    sa.ForeignKeyConstraint(
        ["site_id", "endpoint_id"], ["webhook_endpoint.site_id", "webhook_endpoint.id"]
    ),
    sa.Index(
        "ix_webhook_delivery_due",
        "next_try_at",
        sqlite_where=sa.text("delivered_at IS NULL"),
        postgresql_where=sa.text("delivered_at IS NULL"),
    ),
    sqlite_autoincrement=True,
)
