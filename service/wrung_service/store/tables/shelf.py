"""What there is: sites, their sets and blocks, and every certificate that a block ever had."""

from typing import Final

import sqlalchemy as sa

from wrung_service.store.tables.base import ID, NAME, metadata, moment, of_site, text, whole

site: Final = sa.Table(
    "site",
    metadata,
    sa.Column("id", NAME, primary_key=True),
    text("name", sa.String(200)),
    # An IANA name: a day that a block is due on ends at midnight there.
    text("time_zone", NAME),
    moment("made_at"),
    whole("version", default="1"),
)

gauge_set: Final = sa.Table(
    "gauge_set",
    metadata,
    of_site(),
    text("id", NAME),
    text("composition", NAME, null=True),
    text("unit", sa.String(2)),
    text("grade", NAME, null=True),
    text("material", NAME, null=True),
    text("maker", ID, null=True),
    text("maker_number", ID, null=True),
    text("serial", ID, null=True),
    text("note", sa.String(1000), null=True),
    moment("made_at"),
    moment("removed_at", null=True),
    whole("version", default="1"),
    sa.PrimaryKeyConstraint("site_id", "id"),
)

block: Final = sa.Table(
    "block",
    metadata,
    of_site(),
    text("id"),
    text("set_id", NAME, null=True),
    whole("nominal"),
    text("unit", sa.String(2)),
    text("role", sa.String(8)),
    text("serial", ID, null=True),
    text("maker_number", ID, null=True),
    text("grade", NAME, null=True),
    text("material", NAME, null=True),
    text("section", sa.String(16), null=True),
    # The step block that it is a step of.
    text("body", NAME, null=True),
    whole("deviation", null=True),
    whole("expanded_uncertainty", null=True),
    whole("limit_deviation", null=True),
    # Calibration as a whole, as JSON; beside it what is looked for.
    text("calibration", sa.Text(), null=True),
    text("certificate", ID, null=True),
    sa.Column("calibrated_on", sa.Date, nullable=True),
    sa.Column("due_on", sa.Date, nullable=True),
    # How often it was wrung into a stack, and for how long in all.
    whole("uses", default="0"),
    whole("minutes_out", default="0"),
    text("condition", sa.String(16)),
    text("condition_reason", sa.String(1000), null=True),
    moment("condition_since"),
    moment("made_at"),
    moment("removed_at", null=True),
    whole("version", default="1"),
    sa.PrimaryKeyConstraint("site_id", "id"),
    sa.ForeignKeyConstraint(["site_id", "set_id"], ["gauge_set.site_id", "gauge_set.id"]),
    sa.CheckConstraint("nominal > 0", name="length"),
    sa.CheckConstraint(
        "condition IN ('fit', 'at_calibration', 'damaged', 'missing', 'retired')", name="condition"
    ),
    # With the id at the end a page of a list is read in its order, and no further.
    sa.Index("ix_block_set", "site_id", "set_id", "id"),
    sa.Index("ix_block_nominal", "site_id", "nominal", "id"),
    sa.Index(
        "ix_block_unfit",
        "site_id",
        "condition",
        "id",
        sqlite_where=sa.text("condition <> 'fit'"),
        postgresql_where=sa.text("condition <> 'fit'"),
    ),
    sa.Index("ix_block_due", "site_id", "due_on"),
    sa.Index(
        "ix_block_body",
        "site_id",
        "body",
        sqlite_where=sa.text("body IS NOT NULL"),
        postgresql_where=sa.text("body IS NOT NULL"),
    ),
)

certificate: Final = sa.Table(
    "certificate",
    metadata,
    of_site(),
    text("block_id"),
    # Counted from 1 for each block; the last one is what the block itself says.
    whole("number"),
    text("certificate", ID, null=True),
    sa.Column("calibrated_on", sa.Date, nullable=True),
    sa.Column("due_on", sa.Date, nullable=True),
    whole("deviation", null=True),
    whole("expanded_uncertainty", null=True),
    text("calibration", sa.Text(), null=True),
    moment("noted_at"),
    text("noted_by"),
    sa.PrimaryKeyConstraint("site_id", "block_id", "number"),
    sa.ForeignKeyConstraint(["site_id", "block_id"], ["block.site_id", "block.id"]),
    sa.Index("ix_certificate_certificate", "site_id", "certificate"),
)
