"""What is promised and what is out: plans, the blocks they hold, loans, and plans at risk."""

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

_OPEN: Final = sa.text("released_at IS NULL")
_OUT: Final = sa.text("returned_at IS NULL")
_UNSETTLED: Final = sa.text("settled_at IS NULL")

plan: Final = sa.Table(
    "plan",
    metadata,
    sa.Column("id", ID, primary_key=True),
    of_site(),
    text("job"),
    text("operation", ID, null=True),
    # As of targets: 1 is the most urgent, none the least.
    whole("priority", null=True),
    text("state", sa.String(16)),
    moment("starts_at"),
    moment("ends_at"),
    # Seconds that a block rests before its next use; the promises include them.
    whole("pause_s", default="0"),
    moment("expires_at", null=True),
    # As they were sent and answered; a plan that is changed has newer ones, history the older.
    text("request", sa.Text()),
    text("answer", sa.Text()),
    text("record", sa.Text()),
    moment("made_at"),
    text("made_by"),
    moment("ended_at", null=True),
    whole("version", default="1"),
    sa.UniqueConstraint("site_id", "id"),
    sa.CheckConstraint("ends_at > starts_at", name="window"),
    sa.CheckConstraint("state IN ('planned', 'done', 'cancelled', 'expired')", name="state"),
    sa.Index("ix_plan_start", "site_id", "starts_at", "id"),
    sa.Index("ix_plan_job", "site_id", "job", "starts_at", "id"),
    sa.Index("ix_plan_state", "site_id", "state", "starts_at", "id"),
    sa.Index(
        "ix_plan_expiry",
        "site_id",
        "expires_at",
        sqlite_where=sa.text("state = 'planned'"),
        postgresql_where=sa.text("state = 'planned'"),
    ),
)

promise: Final = sa.Table(
    "promise",
    metadata,
    row_number(),
    of_site(),
    text("plan_id"),
    text("block_id"),
    # The place of its stack among those of the plan's answer; the first one, if it is in several.
    whole("stack"),
    # From the start itself up to the end, which is not part of it; the pause comes before the end.
    moment("starts_at"),
    moment("ends_at"),
    moment("released_at", null=True),
    sa.ForeignKeyConstraint(["site_id", "plan_id"], ["plan.site_id", "plan.id"]),
    sa.ForeignKeyConstraint(["site_id", "block_id"], ["block.site_id", "block.id"]),
    sa.CheckConstraint("ends_at > starts_at", name="window"),
    # Past promises end early in it, so that the look-up of overlaps stays short.
    sa.Index(
        "ix_promise_held",
        "site_id",
        "block_id",
        "ends_at",
        sqlite_where=_OPEN,
        postgresql_where=_OPEN,
    ),
    # What is taken in a time of need, over all blocks of a site.
    sa.Index(
        "ix_promise_window",
        "site_id",
        "ends_at",
        "starts_at",
        "block_id",
        sqlite_where=_OPEN,
        postgresql_where=_OPEN,
    ),
    sa.Index("ix_promise_plan", "plan_id"),
    sqlite_autoincrement=True,
)

loan: Final = sa.Table(
    "loan",
    metadata,
    row_number(),
    of_site(),
    text("block_id"),
    text("plan_id", null=True),
    text("borrower", sa.String(200), null=True),
    moment("issued_at"),
    text("issued_by"),
    moment("due_at", null=True),
    moment("returned_at", null=True),
    text("returned_by", null=True),
    text("returned_condition", sa.String(16), null=True),
    text("note", sa.String(1000), null=True),
    sa.ForeignKeyConstraint(["site_id", "block_id"], ["block.site_id", "block.id"]),
    sa.ForeignKeyConstraint(["site_id", "plan_id"], ["plan.site_id", "plan.id"]),
    # A block can be out only once.
    sa.Index(
        "uq_loan_out",
        "site_id",
        "block_id",
        unique=True,
        sqlite_where=_OUT,
        postgresql_where=_OUT,
    ),
    sa.Index("ix_loan_due", "site_id", "due_at", sqlite_where=_OUT, postgresql_where=_OUT),
    sa.Index("ix_loan_site", "site_id", "n"),
    sa.Index("ix_loan_block", "site_id", "block_id", "n"),
    sa.Index("ix_loan_plan", "plan_id"),
    sqlite_autoincrement=True,
)

risk: Final = sa.Table(
    "risk",
    metadata,
    row_number(),
    of_site(),
    text("plan_id"),
    text("block_id"),
    text("reason", NAME),
    moment("noted_at"),
    moment("settled_at", null=True),
    sa.ForeignKeyConstraint(["site_id", "plan_id"], ["plan.site_id", "plan.id"]),
    sa.ForeignKeyConstraint(["site_id", "block_id"], ["block.site_id", "block.id"]),
    sa.Index(
        "uq_risk_open",
        "plan_id",
        "block_id",
        unique=True,
        sqlite_where=_UNSETTLED,
        postgresql_where=_UNSETTLED,
    ),
    sqlite_autoincrement=True,
)
