"""Batches: requests answered in the background; on PostgreSQL the tables of their engine, too."""

from typing import Final

import sqlalchemy as sa
from alembic import op

from wrung_service.store.instants import Instant

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None

_GOING_ON: Final = sa.text("ended_at IS NULL")
_OPEN: Final = sa.text("state <> 'done'")


def upgrade() -> None:
    """Make the change; the rules are made anew after it."""
    _make_batches()
    _make_items()
    _make_chunks()
    if op.get_bind().dialect.name == "postgresql":
        _make_engine()


def _make_engine() -> None:
    # Only here: every service reads this file when it starts.
    from procrastinate.schema import SchemaManager  # noqa: PLC0415

    # What looks like a parameter is none.
    op.get_bind().exec_driver_sql(SchemaManager.get_schema().replace("%", "%%"))


def _make_batches() -> None:
    op.create_table(
        "batch",
        sa.Column("id", sa.String(length=128), nullable=False),
        sa.Column("site_id", sa.String(length=64), nullable=True),
        sa.Column("state", sa.String(length=16), nullable=False),
        sa.Column("total", sa.BigInteger(), nullable=False),
        sa.Column("answered", sa.BigInteger(), server_default="0", nullable=False),
        sa.Column("failed", sa.BigInteger(), server_default="0", nullable=False),
        sa.Column("made_at", Instant(), nullable=False),
        sa.Column("made_by", sa.String(length=128), nullable=False),
        sa.Column("sites", sa.Text(), nullable=True),
        sa.Column("request_id", sa.String(length=64), nullable=False),
        sa.Column("ended_at", Instant(), nullable=True),
        sa.Column("expires_at", Instant(), nullable=False),
        sa.CheckConstraint(
            "state IN ('waiting', 'running', 'done', 'cancelled', 'expired')",
            name=op.f("ck_batch_state"),
        ),
        sa.ForeignKeyConstraint(["site_id"], ["site.id"], name=op.f("fk_batch_site_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_batch")),
    )
    op.create_index("ix_batch_expiry", "batch", ["expires_at"])
    op.create_index(
        "ix_batch_going_on",
        "batch",
        ["made_by"],
        sqlite_where=_GOING_ON,
        postgresql_where=_GOING_ON,
    )


def _make_items() -> None:
    op.create_table(
        "batch_item",
        sa.Column("batch_id", sa.String(length=128), nullable=False),
        sa.Column("position", sa.BigInteger(), nullable=False),
        sa.Column("request", sa.Text(), nullable=False),
        sa.Column("tries", sa.BigInteger(), server_default="0", nullable=False),
        sa.ForeignKeyConstraint(["batch_id"], ["batch.id"], name=op.f("fk_batch_item_batch_id")),
        sa.PrimaryKeyConstraint("batch_id", "position", name=op.f("pk_batch_item")),
    )
    op.create_table(
        "batch_answer",
        sa.Column("batch_id", sa.String(length=128), nullable=False),
        sa.Column("position", sa.BigInteger(), nullable=False),
        sa.Column("line", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(
            ["batch_id", "position"],
            ["batch_item.batch_id", "batch_item.position"],
            name=op.f("fk_batch_answer_batch_id_position"),
        ),
        sa.PrimaryKeyConstraint("batch_id", "position", name=op.f("pk_batch_answer")),
    )


def _make_chunks() -> None:
    op.create_table(
        "batch_chunk",
        sa.Column(
            "n",
            sa.BigInteger().with_variant(sa.Integer(), "sqlite"),
            sa.Identity(always=True),
            nullable=False,
        ),
        sa.Column("batch_id", sa.String(length=128), nullable=False),
        sa.Column("first", sa.BigInteger(), nullable=False),
        sa.Column("last", sa.BigInteger(), nullable=False),
        sa.Column("turn", sa.BigInteger(), nullable=False),
        sa.Column("state", sa.String(length=16), nullable=False),
        sa.Column("attempts", sa.BigInteger(), server_default="0", nullable=False),
        sa.Column("owner", sa.String(length=64), nullable=True),
        sa.Column("lease_until", Instant(), nullable=True),
        sa.CheckConstraint(
            "state IN ('waiting', 'doing', 'done')", name=op.f("ck_batch_chunk_state")
        ),
        sa.ForeignKeyConstraint(["batch_id"], ["batch.id"], name=op.f("fk_batch_chunk_batch_id")),
        sa.PrimaryKeyConstraint("n", name=op.f("pk_batch_chunk")),
        sqlite_autoincrement=True,
    )
    op.create_index("uq_batch_chunk_first", "batch_chunk", ["batch_id", "first"], unique=True)
    op.create_index(
        "ix_batch_chunk_open",
        "batch_chunk",
        ["turn", "n"],
        sqlite_where=_OPEN,
        postgresql_where=_OPEN,
    )
