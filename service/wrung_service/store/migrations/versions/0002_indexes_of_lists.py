"""Indexes by which lists are read in their order, and no further than one page."""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None

_UNFIT = sa.text("condition <> 'fit'")


def upgrade() -> None:
    """Make the change; the rules are made anew after it."""
    op.drop_index("ix_block_set", "block")
    op.create_index("ix_block_set", "block", ["site_id", "set_id", "id"])
    op.drop_index("ix_block_nominal", "block")
    op.create_index("ix_block_nominal", "block", ["site_id", "nominal", "id"])
    op.create_index(
        "ix_block_unfit",
        "block",
        ["site_id", "condition", "id"],
        sqlite_where=_UNFIT,
        postgresql_where=_UNFIT,
    )
    op.drop_index("ix_plan_job", "plan")
    op.create_index("ix_plan_job", "plan", ["site_id", "job", "starts_at", "id"])
    op.create_index("ix_plan_state", "plan", ["site_id", "state", "starts_at", "id"])
    op.create_index("ix_loan_site", "loan", ["site_id", "n"])
    op.create_index("ix_loan_block", "loan", ["site_id", "block_id", "n"])
