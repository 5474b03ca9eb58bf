"""Webhooks: what endpoints want, what became of each message, and what was noticed of blocks."""

import sqlalchemy as sa
from alembic import op

from wrung_service.store.instants import Instant

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the change; the rules are made anew after it."""
    # Columns are added, and no table is copied: rows stay as they are.
    _add(
        "webhook_endpoint",
        sa.Column("previous_secret", sa.String(length=200), nullable=True),
        sa.Column("previous_until", Instant(), nullable=True),
        sa.Column("description", sa.String(length=1000), nullable=True),
        sa.Column("due_days", sa.BigInteger(), server_default="30", nullable=False),
        sa.Column("stop_reason", sa.String(length=16), nullable=True),
    )
    _add(
        "webhook_delivery",
        sa.Column("give_up_at", Instant(), nullable=True),
        sa.Column("tried_at", Instant(), nullable=True),
        sa.Column("fault", sa.String(length=64), nullable=True),
    )
    _make_indexes()
    _make_notices()


def _add(table: str, *columns: sa.Column[object]) -> None:
    for column in columns:
        op.add_column(table, column)


def _make_indexes() -> None:
    op.drop_index("ix_webhook_delivery_due", "webhook_delivery")
    op.create_index(
        "ix_webhook_delivery_due",
        "webhook_delivery",
        ["next_try_at"],
        sqlite_where=sa.text("next_try_at IS NOT NULL"),
        postgresql_where=sa.text("next_try_at IS NOT NULL"),
    )
    op.create_index(
        "uq_webhook_delivery_message",
        "webhook_delivery",
        ["site_id", "endpoint_id", "message_id"],
        unique=True,
    )


def _make_notices() -> None:
    op.create_table(
        "webhook_notice",
        sa.Column("site_id", sa.String(length=64), nullable=False),
        sa.Column("endpoint_id", sa.String(length=64), nullable=False),
        sa.Column("event", sa.String(length=64), nullable=False),
        sa.Column("block_id", sa.String(length=128), nullable=False),
        sa.Column("due", sa.String(length=32), nullable=False),
        sa.Column("noted_at", Instant(), nullable=False),
        sa.ForeignKeyConstraint(
            ["site_id", "block_id"],
            ["block.site_id", "block.id"],
            name=op.f("fk_webhook_notice_site_id_block_id"),
        ),
        sa.ForeignKeyConstraint(
            ["site_id", "endpoint_id"],
            ["webhook_endpoint.site_id", "webhook_endpoint.id"],
            name=op.f("fk_webhook_notice_site_id_endpoint_id"),
        ),
        sa.ForeignKeyConstraint(["site_id"], ["site.id"], name=op.f("fk_webhook_notice_site_id")),
        sa.PrimaryKeyConstraint(
            "site_id", "endpoint_id", "event", "block_id", "due", name=op.f("pk_webhook_notice")
        ),
    )
