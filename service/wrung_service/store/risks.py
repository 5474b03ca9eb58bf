"""Plans at risk: they count on a block that they will not have."""

from collections.abc import Sequence
from datetime import datetime
from typing import Any, get_args

import sqlalchemy as sa
from msgspec import Struct

from wrung_service.store.blocks import Condition
from wrung_service.store.tables import plan, promise, risk


class Risk(Struct, frozen=True, kw_only=True):
    """One plan that counts on one block that it will not have.

    ``reason`` is the block's condition, or ``displaced`` where a more urgent plan has it.
    """

    plan: str
    job: str
    operation: str | None
    starts_at: datetime
    block: str
    reason: str
    noted_at: datetime


def mark_risks(
    connection: sa.Connection, of: str, name: str, reason: str, now: datetime
) -> tuple[Risk, ...]:
    """Mark every plan that is promised the block from now on; those that were not before."""
    marked = sa.select(risk.c.plan_id).where(
        risk.c.site_id == of, risk.c.block_id == name, risk.c.settled_at.is_(None)
    )
    counting = (
        sa.select(plan.c.id)
        .join(promise, promise.c.plan_id == plan.c.id)
        .where(
            plan.c.site_id == of,
            plan.c.state == "planned",
            promise.c.block_id == name,
            promise.c.released_at.is_(None),
            promise.c.ends_at > now,
            plan.c.id.not_in(marked),
        )
        .distinct()
    )
    plans = connection.execute(counting).scalars().all()
    rows = [
        {"site_id": of, "plan_id": each, "block_id": name, "reason": reason, "noted_at": now}
        for each in plans
    ]
    if rows:
        connection.execute(sa.insert(risk), rows)
    return tuple(each for each in open_risks(connection, of, [name]) if each.plan in plans)


def settle_risks_of(connection: sa.Connection, of: str, name: str, now: datetime) -> None:
    """The block is fit again: nobody has to do without it."""
    same = (
        risk.c.site_id == of,
        risk.c.block_id == name,
        risk.c.settled_at.is_(None),
        # A more urgent plan may have taken it, which its condition does not change.
        risk.c.reason.in_(get_args(Condition)),
    )
    connection.execute(sa.update(risk).where(*same).values(settled_at=now))


def open_risks(
    connection: sa.Connection, of: str, names: Sequence[str] | None = None
) -> tuple[Risk, ...]:
    """Plans at risk, those that are needed first before the others; only for some blocks."""
    query = (
        sa.select(risk, plan.c.job, plan.c.operation, plan.c.starts_at)
        .join(plan, plan.c.id == risk.c.plan_id)
        .where(risk.c.site_id == of, risk.c.settled_at.is_(None), plan.c.state == "planned")
        .order_by(plan.c.starts_at, plan.c.id, risk.c.block_id)
    )
    if names is not None:
        query = query.where(risk.c.block_id.in_(names))
    return tuple(_risk(row) for row in connection.execute(query))


def _risk(row: Any) -> Risk:  # noqa: ANN401 - a row
    return Risk(
        plan=row.plan_id,
        job=row.job,
        operation=row.operation,
        starts_at=row.starts_at,
        block=row.block_id,
        reason=row.reason,
        noted_at=row.noted_at,
    )
