"""Blocks may be steps of a step block, which is promised, and goes out, as one."""

import sqlalchemy as sa
from alembic import op

revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the change; the rules are made anew after it."""
    op.add_column("block", sa.Column("body", sa.String(length=64), nullable=True))
    some = sa.text("body IS NOT NULL")
    op.create_index(
        "ix_block_body", "block", ["site_id", "body"], sqlite_where=some, postgresql_where=some
    )
