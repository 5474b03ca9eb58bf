"""Who is told what happened: endpoints, what was or will be sent to them, and what was noticed."""

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

_ENDPOINT: Final = ["webhook_endpoint.site_id", "webhook_endpoint.id"]
# Neither delivered nor given up.
_WAITING: Final = sa.text("next_try_at IS NOT NULL")

webhook_endpoint: Final = sa.Table(
    "webhook_endpoint",
    metadata,
    of_site(),
    text("id", NAME),
    text("url", sa.String(2000)),
    # As it is, since every message is signed with it; the one before it is valid for a while.
    text("secret", sa.String(200)),
    text("previous_secret", sa.String(200), null=True),
    moment("previous_until", null=True),
    # Names of events with spaces between them.
    text("events", sa.String(500)),
    text("description", sa.String(1000), null=True),
    # How many days before the last day of use a block is called due.
    whole("due_days", default="30"),
    moment("made_at"),
    moment("stopped_at", null=True),
    text("stop_reason", sa.String(16), null=True),
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
    # Null: delivered, or given up. While it is being sent: when another may try.
    moment("next_try_at", null=True),
    moment("give_up_at", null=True),
    whole("tries", default="0"),
    moment("tried_at", null=True),
    moment("delivered_at", null=True),
    # Of the last try: the status that was answered, or why there was none.
    sa.Column("status", sa.Integer, nullable=True),
    text("fault", NAME, null=True),
    sa.ForeignKeyConstraint(["site_id", "endpoint_id"], _ENDPOINT),
    sa.Index(
        "ix_webhook_delivery_due",
        "next_try_at",
        sqlite_where=_WAITING,
        postgresql_where=_WAITING,
    ),
    sa.Index("uq_webhook_delivery_message", "site_id", "endpoint_id", "message_id", unique=True),
    sqlite_autoincrement=True,
)

webhook_notice: Final = sa.Table(
    "webhook_notice",
    metadata,
    of_site(),
    text("endpoint_id", NAME),
    text("event", NAME),
    # The block, and the moment or day that it was due: another one is another notice.
    text("block_id"),
    text("due", sa.String(32)),
    moment("noted_at"),
    sa.PrimaryKeyConstraint("site_id", "endpoint_id", "event", "block_id", "due"),
    sa.ForeignKeyConstraint(["site_id", "endpoint_id"], _ENDPOINT),
    sa.ForeignKeyConstraint(["site_id", "block_id"], ["block.site_id", "block.id"]),
)
