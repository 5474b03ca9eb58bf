"""The first tables."""

import sqlalchemy as sa
from alembic import op

from wrung_service.store.instants import Instant

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the change; the rules are made anew after it."""
    op.create_table(
        "idempotency_key",
        sa.Column("caller", sa.String(length=128), nullable=False),
        sa.Column("key", sa.String(length=255), nullable=False),
        sa.Column("fingerprint", sa.String(length=64), nullable=False),
        sa.Column("status", sa.Integer(), nullable=False),
        sa.Column("location", sa.String(length=500), nullable=True),
        sa.Column("body", sa.Text(), nullable=False),
        sa.Column("at", Instant(), nullable=False),
        sa.PrimaryKeyConstraint("caller", "key", name=op.f("pk_idempotency_key")),
    )
    op.create_index("ix_idempotency_key_at", "idempotency_key", ["at"])

    op.create_table(
        "site",
        sa.Column("id", sa.String(length=64), nullable=False),
        sa.Column("name", sa.String(length=200), nullable=False),
        sa.Column("time_zone", sa.String(length=64), nullable=False),
        sa.Column("made_at", Instant(), nullable=False),
        sa.Column("version", sa.BigInteger(), server_default="1", nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_site")),
    )
    op.create_table(
        "api_key",
        sa.Column("id", sa.String(length=64), nullable=False),
        sa.Column("holder", sa.String(length=200), nullable=False),
        sa.Column("site_id", sa.String(length=64), nullable=True),
        sa.Column("scopes", sa.String(length=200), nullable=False),
        sa.Column("hash", sa.String(length=64), nullable=False),
        sa.Column("made_at", Instant(), nullable=False),
        sa.Column("made_by", sa.String(length=128), nullable=False),
        sa.Column("expires_at", Instant(), nullable=True),
        sa.Column("revoked_at", Instant(), nullable=True),
        sa.Column("used_at", Instant(), nullable=True),
        sa.ForeignKeyConstraint(["site_id"], ["site.id"], name=op.f("fk_api_key_site_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_api_key")),
    )
    op.create_index("ix_api_key_holder", "api_key", ["holder"])

    op.create_table(
        "gauge_set",
        sa.Column("site_id", sa.String(length=64), nullable=False),
        sa.Column("id", sa.String(length=64), nullable=False),
        sa.Column("composition", sa.String(length=64), nullable=True),
        sa.Column("unit", sa.String(length=2), nullable=False),
        sa.Column("grade", sa.String(length=64), nullable=True),
        sa.Column("material", sa.String(length=64), nullable=True),
        sa.Column("maker", sa.String(length=128), nullable=True),
        sa.Column("maker_number", sa.String(length=128), nullable=True),
        sa.Column("serial", sa.String(length=128), nullable=True),
        sa.Column("note", sa.String(length=1000), nullable=True),
        sa.Column("made_at", Instant(), nullable=False),
        sa.Column("removed_at", Instant(), nullable=True),
        sa.Column("version", sa.BigInteger(), server_default="1", nullable=False),
        sa.ForeignKeyConstraint(["site_id"], ["site.id"], name=op.f("fk_gauge_set_site_id")),
        sa.PrimaryKeyConstraint("site_id", "id", name=op.f("pk_gauge_set")),
    )
    op.create_table(
        "history",
        sa.Column(
            "n",
            sa.BigInteger().with_variant(sa.Integer(), "sqlite"),
            sa.Identity(always=True),
            nullable=False,
        ),
        sa.Column("site_id", sa.String(length=64), nullable=False),
        sa.Column("number", sa.BigInteger(), nullable=False),
        sa.Column("at", Instant(), nullable=False),
        sa.Column("who", sa.String(length=128), nullable=False),
        sa.Column("what", sa.String(length=64), nullable=False),
        sa.Column("why", sa.String(length=1000), nullable=True),
        sa.Column("kind", sa.String(length=16), nullable=False),
        sa.Column("subject", sa.String(length=128), nullable=False),
        sa.Column("job", sa.String(length=128), nullable=True),
        sa.Column("detail", sa.Text(), nullable=False),
        sa.Column("previous", sa.String(length=64), nullable=False),
        sa.Column("hash", sa.String(length=64), nullable=False),
        sa.ForeignKeyConstraint(["site_id"], ["site.id"], name=op.f("fk_history_site_id")),
        sa.PrimaryKeyConstraint("n", name=op.f("pk_history")),
        sa.UniqueConstraint("site_id", "number", name=op.f("uq_history_site_id_number")),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_history_job", "history", ["site_id", "job"])
    op.create_index("ix_history_subject", "history", ["site_id", "kind", "subject"])

    op.create_table(
        "plan",
        sa.Column("id", sa.String(length=128), nullable=False),
        sa.Column("site_id", sa.String(length=64), nullable=False),
        sa.Column("job", sa.String(length=128), nullable=False),
        sa.Column("operation", sa.String(length=128), nullable=True),
        sa.Column("priority", sa.BigInteger(), nullable=True),
        sa.Column("state", sa.String(length=16), nullable=False),
        sa.Column("starts_at", Instant(), nullable=False),
        sa.Column("ends_at", Instant(), nullable=False),
        sa.Column("pause_s", sa.BigInteger(), server_default="0", nullable=False),
        sa.Column("expires_at", Instant(), nullable=True),
        sa.Column("request", sa.Text(), nullable=False),
        sa.Column("answer", sa.Text(), nullable=False),
        sa.Column("record", sa.Text(), nullable=False),
        sa.Column("made_at", Instant(), nullable=False),
        sa.Column("made_by", sa.String(length=128), nullable=False),
        sa.Column("ended_at", Instant(), nullable=True),
        sa.Column("version", sa.BigInteger(), server_default="1", nullable=False),
        sa.CheckConstraint(
            "state IN ('planned', 'done', 'cancelled', 'expired')", name=op.f("ck_plan_state")
        ),
        sa.CheckConstraint("ends_at > starts_at", name=op.f("ck_plan_window")),
        sa.ForeignKeyConstraint(["site_id"], ["site.id"], name=op.f("fk_plan_site_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_plan")),
        sa.UniqueConstraint("site_id", "id", name=op.f("uq_plan_site_id_id")),
    )
    op.create_index(
        "ix_plan_expiry",
        "plan",
        ["site_id", "expires_at"],
        sqlite_where=sa.text("state = 'planned'"),
        postgresql_where=sa.text("state = 'planned'"),
    )
    op.create_index("ix_plan_job", "plan", ["site_id", "job"])
    op.create_index("ix_plan_start", "plan", ["site_id", "starts_at", "id"])

    op.create_table(
        "webhook_endpoint",
        sa.Column("site_id", sa.String(length=64), nullable=False),
        sa.Column("id", sa.String(length=64), nullable=False),
        sa.Column("url", sa.String(length=2000), nullable=False),
        sa.Column("secret", sa.String(length=200), nullable=False),
        sa.Column("events", sa.String(length=500), nullable=False),
        sa.Column("made_at", Instant(), nullable=False),
        sa.Column("stopped_at", Instant(), nullable=True),
        sa.Column("version", sa.BigInteger(), server_default="1", nullable=False),
        sa.ForeignKeyConstraint(["site_id"], ["site.id"], name=op.f("fk_webhook_endpoint_site_id")),
        sa.PrimaryKeyConstraint("site_id", "id", name=op.f("pk_webhook_endpoint")),
    )
    op.create_table(
        "block",
        sa.Column("site_id", sa.String(length=64), nullable=False),
        sa.Column("id", sa.String(length=128), nullable=False),
        sa.Column("set_id", sa.String(length=64), nullable=True),
        sa.Column("nominal", sa.BigInteger(), nullable=False),
        sa.Column("unit", sa.String(length=2), nullable=False),
        sa.Column("role", sa.String(length=8), nullable=False),
        sa.Column("serial", sa.String(length=128), nullable=True),
        sa.Column("maker_number", sa.String(length=128), nullable=True),
        sa.Column("grade", sa.String(length=64), nullable=True),
        sa.Column("material", sa.String(length=64), nullable=True),
        sa.Column("deviation", sa.BigInteger(), nullable=True),
        sa.Column("expanded_uncertainty", sa.BigInteger(), nullable=True),
        sa.Column("limit_deviation", sa.BigInteger(), nullable=True),
        sa.Column("calibration", sa.Text(), nullable=True),
        sa.Column("certificate", sa.String(length=128), nullable=True),
        sa.Column("calibrated_on", sa.Date(), nullable=True),
        sa.Column("due_on", sa.Date(), nullable=True),
        sa.Column("uses", sa.BigInteger(), server_default="0", nullable=False),
        sa.Column("minutes_out", sa.BigInteger(), server_default="0", nullable=False),
        sa.Column("condition", sa.String(length=16), nullable=False),
        sa.Column("condition_reason", sa.String(length=1000), nullable=True),
        sa.Column("condition_since", Instant(), nullable=False),
        sa.Column("made_at", Instant(), nullable=False),
        sa.Column("removed_at", Instant(), nullable=True),
        sa.Column("version", sa.BigInteger(), server_default="1", nullable=False),
        sa.CheckConstraint(
            "condition IN ('fit', 'at_calibration', 'damaged', 'missing', 'retired')",
            name=op.f("ck_block_condition"),
        ),
        sa.CheckConstraint("nominal > 0", name=op.f("ck_block_length")),
        sa.ForeignKeyConstraint(
            ["site_id", "set_id"],
            ["gauge_set.site_id", "gauge_set.id"],
            name=op.f("fk_block_site_id_set_id"),
        ),
        sa.ForeignKeyConstraint(["site_id"], ["site.id"], name=op.f("fk_block_site_id")),
        sa.PrimaryKeyConstraint("site_id", "id", name=op.f("pk_block")),
    )
    op.create_index("ix_block_due", "block", ["site_id", "due_on"])
    op.create_index("ix_block_nominal", "block", ["site_id", "nominal"])
    op.create_index("ix_block_set", "block", ["site_id", "set_id"])

    op.create_table(
        "webhook_delivery",
        sa.Column(
            "n",
            sa.BigInteger().with_variant(sa.Integer(), "sqlite"),
            sa.Identity(always=True),
            nullable=False,
        ),
        sa.Column("site_id", sa.String(length=64), nullable=False),
        sa.Column("endpoint_id", sa.String(length=64), nullable=False),
        sa.Column("message_id", sa.String(length=128), nullable=False),
        sa.Column("event", sa.String(length=64), nullable=False),
        sa.Column("body", sa.Text(), nullable=False),
        sa.Column("made_at", Instant(), nullable=False),
        sa.Column("next_try_at", Instant(), nullable=True),
        sa.Column("tries", sa.BigInteger(), server_default="0", nullable=False),
        sa.Column("delivered_at", Instant(), nullable=True),
        sa.Column("status", sa.Integer(), nullable=True),
        sa.ForeignKeyConstraint(
            ["site_id", "endpoint_id"],
            ["webhook_endpoint.site_id", "webhook_endpoint.id"],
            name=op.f("fk_webhook_delivery_site_id_endpoint_id"),
        ),
        sa.ForeignKeyConstraint(["site_id"], ["site.id"], name=op.f("fk_webhook_delivery_site_id")),
        sa.PrimaryKeyConstraint("n", name=op.f("pk_webhook_delivery")),
        sqlite_autoincrement=True,
    )
    op.create_index(
        "ix_webhook_delivery_due",
        "webhook_delivery",
        ["next_try_at"],
        sqlite_where=sa.text("delivered_at IS NULL"),
        postgresql_where=sa.text("delivered_at IS NULL"),
    )

    op.create_table(
        "certificate",
        sa.Column("site_id", sa.String(length=64), nullable=False),
        sa.Column("block_id", sa.String(length=128), nullable=False),
        sa.Column("number", sa.BigInteger(), nullable=False),
        sa.Column("certificate", sa.String(length=128), nullable=True),
        sa.Column("calibrated_on", sa.Date(), nullable=True),
        sa.Column("due_on", sa.Date(), nullable=True),
        sa.Column("deviation", sa.BigInteger(), nullable=True),
        sa.Column("expanded_uncertainty", sa.BigInteger(), nullable=True),
        sa.Column("calibration", sa.Text(), nullable=True),
        sa.Column("noted_at", Instant(), nullable=False),
        sa.Column("noted_by", sa.String(length=128), nullable=False),
        sa.ForeignKeyConstraint(
            ["site_id", "block_id"],
            ["block.site_id", "block.id"],
            name=op.f("fk_certificate_site_id_block_id"),
        ),
        sa.ForeignKeyConstraint(["site_id"], ["site.id"], name=op.f("fk_certificate_site_id")),
        sa.PrimaryKeyConstraint("site_id", "block_id", "number", name=op.f("pk_certificate")),
    )
    op.create_index("ix_certificate_certificate", "certificate", ["site_id", "certificate"])

    op.create_table(
        "loan",
        sa.Column(
            "n",
            sa.BigInteger().with_variant(sa.Integer(), "sqlite"),
            sa.Identity(always=True),
            nullable=False,
        ),
        sa.Column("site_id", sa.String(length=64), nullable=False),
        sa.Column("block_id", sa.String(length=128), nullable=False),
        sa.Column("plan_id", sa.String(length=128), nullable=True),
        sa.Column("borrower", sa.String(length=200), nullable=True),
        sa.Column("issued_at", Instant(), nullable=False),
        sa.Column("issued_by", sa.String(length=128), nullable=False),
        sa.Column("due_at", Instant(), nullable=True),
        sa.Column("returned_at", Instant(), nullable=True),
        sa.Column("returned_by", sa.String(length=128), nullable=True),
        sa.Column("returned_condition", sa.String(length=16), nullable=True),
        sa.Column("note", sa.String(length=1000), nullable=True),
        sa.ForeignKeyConstraint(
            ["site_id", "block_id"],
            ["block.site_id", "block.id"],
            name=op.f("fk_loan_site_id_block_id"),
        ),
        sa.ForeignKeyConstraint(
            ["site_id", "plan_id"],
            ["plan.site_id", "plan.id"],
            name=op.f("fk_loan_site_id_plan_id"),
        ),
        sa.ForeignKeyConstraint(["site_id"], ["site.id"], name=op.f("fk_loan_site_id")),
        sa.PrimaryKeyConstraint("n", name=op.f("pk_loan")),
        sqlite_autoincrement=True,
    )
    op.create_index(
        "ix_loan_due",
        "loan",
        ["site_id", "due_at"],
        sqlite_where=sa.text("returned_at IS NULL"),
        postgresql_where=sa.text("returned_at IS NULL"),
    )
    op.create_index("ix_loan_plan", "loan", ["plan_id"])
    op.create_index(
        "uq_loan_out",
        "loan",
        ["site_id", "block_id"],
        unique=True,
        sqlite_where=sa.text("returned_at IS NULL"),
        postgresql_where=sa.text("returned_at IS NULL"),
    )

    op.create_table(
        "promise",
        sa.Column(
            "n",
            sa.BigInteger().with_variant(sa.Integer(), "sqlite"),
            sa.Identity(always=True),
            nullable=False,
        ),
        sa.Column("site_id", sa.String(length=64), nullable=False),
        sa.Column("plan_id", sa.String(length=128), nullable=False),
        sa.Column("block_id", sa.String(length=128), nullable=False),
        sa.Column("stack", sa.BigInteger(), nullable=False),
        sa.Column("starts_at", Instant(), nullable=False),
        sa.Column("ends_at", Instant(), nullable=False),
        sa.Column("released_at", Instant(), nullable=True),
        sa.CheckConstraint("ends_at > starts_at", name=op.f("ck_promise_window")),
        sa.ForeignKeyConstraint(
            ["site_id", "block_id"],
            ["block.site_id", "block.id"],
            name=op.f("fk_promise_site_id_block_id"),
        ),
        sa.ForeignKeyConstraint(
            ["site_id", "plan_id"],
            ["plan.site_id", "plan.id"],
            name=op.f("fk_promise_site_id_plan_id"),
        ),
        sa.ForeignKeyConstraint(["site_id"], ["site.id"], name=op.f("fk_promise_site_id")),
        sa.PrimaryKeyConstraint("n", name=op.f("pk_promise")),
        sqlite_autoincrement=True,
    )
    op.create_index(
        "ix_promise_held",
        "promise",
        ["site_id", "block_id", "ends_at"],
        sqlite_where=sa.text("released_at IS NULL"),
        postgresql_where=sa.text("released_at IS NULL"),
    )
    op.create_index("ix_promise_plan", "promise", ["plan_id"])
    op.create_index(
        "ix_promise_window",
        "promise",
        ["site_id", "ends_at", "starts_at", "block_id"],
        sqlite_where=sa.text("released_at IS NULL"),
        postgresql_where=sa.text("released_at IS NULL"),
    )

    op.create_table(
        "risk",
        sa.Column(
            "n",
            sa.BigInteger().with_variant(sa.Integer(), "sqlite"),
            sa.Identity(always=True),
            nullable=False,
        ),
        sa.Column("site_id", sa.String(length=64), nullable=False),
        sa.Column("plan_id", sa.String(length=128), nullable=False),
        sa.Column("block_id", sa.String(length=128), nullable=False),
        sa.Column("reason", sa.String(length=64), nullable=False),
        sa.Column("noted_at", Instant(), nullable=False),
        sa.Column("settled_at", Instant(), nullable=True),
        sa.ForeignKeyConstraint(
            ["site_id", "block_id"],
            ["block.site_id", "block.id"],
            name=op.f("fk_risk_site_id_block_id"),
        ),
        sa.ForeignKeyConstraint(
            ["site_id", "plan_id"],
            ["plan.site_id", "plan.id"],
            name=op.f("fk_risk_site_id_plan_id"),
        ),
        sa.ForeignKeyConstraint(["site_id"], ["site.id"], name=op.f("fk_risk_site_id")),
        sa.PrimaryKeyConstraint("n", name=op.f("pk_risk")),
        sqlite_autoincrement=True,
    )
    op.create_index(
        "uq_risk_open",
        "risk",
        ["plan_id", "block_id"],
        unique=True,
        sqlite_where=sa.text("settled_at IS NULL"),
        postgresql_where=sa.text("settled_at IS NULL"),
    )
