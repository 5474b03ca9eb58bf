"""Blocks know their section: square ones have a hole for a tie rod."""

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the change; the rules are made anew after it."""
    op.add_column("block", sa.Column("section", sa.String(length=16), nullable=True))
