"""Batches know the language of whoever posted them, and are listed, the newest first."""

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the change; the rules are made anew after it."""
    language = sa.Column("language", sa.String(length=2), server_default="en", nullable=False)
    op.add_column("batch", language)
    op.create_index("ix_batch_made", "batch", ["made_at", "id"])
