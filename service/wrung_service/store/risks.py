"""Plans at risk: they count on a block that they will not have, or not as they were told."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any, Literal, TypeAlias

import sqlalchemy as sa
from msgspec import Struct

from wrung_service.store.blocks import Condition
from wrung_service.store.tables import plan, promise, risk

RiskReason: TypeAlias = Condition | Literal["overdue", "moved", "changed", "displaced"]
"""The block's condition; its calibration runs out before the need; it is in none of the sets that
the plan asked for; its figures are not those that the plan rests on; a more urgent plan has it."""
PlanAndBlock: TypeAlias = tuple[str, str]


class Risk(Struct, frozen=True, kw_only=True):
    """One plan that cannot count on one block."""

    plan: str
    job: str
    operation: str | None
    starts_at: datetime
    block: str
    reason: str
    noted_at: datetime


class CountingPlan(Struct, frozen=True, kw_only=True):
    """A plan that is promised some of the blocks asked about from now on.

    Attributes:
        ends_at: end of the last need, without the pause after it.
        request: as it was sent, as JSON.
        record: of its answer, as JSON.
    """

    id: str
    job: str
    operation: str | None
    starts_at: datetime
    ends_at: datetime
    request: str
    record: str
    blocks: tuple[str, ...]


def plans_counting_on(
    connection: sa.Connection, of: str, names: Sequence[str], now: datetime
) -> tuple[CountingPlan, ...]:
    """Every plan that is promised one of these blocks from now on, by the start of its need."""
    promised = (
        sa.select(promise.c.plan_id, promise.c.block_id)
        .join(plan, plan.c.id == promise.c.plan_id)
        .where(
            promise.c.site_id == of,
            promise.c.block_id.in_(names),
            promise.c.released_at.is_(None),
            promise.c.ends_at > now,
            plan.c.state == "planned",
        )
        .distinct()
    )
    blocks: dict[str, tuple[str, ...]] = {}
    for name, block in connection.execute(promised.order_by(promise.c.block_id)):
        blocks[name] = (*blocks.get(name, ()), block)
    columns = [plan.c[name] for name in CountingPlan.__struct_fields__ if name != "blocks"]
    query = sa.select(*columns).where(plan.c.id.in_(list(blocks)))
    rows = connection.execute(query.order_by(plan.c.starts_at, plan.c.id)).mappings()
    return tuple(CountingPlan(**row, blocks=blocks[row["id"]]) for row in rows)


def keep_risks(
    connection: sa.Connection,
    of: str,
    names: Sequence[str],
    found: Mapping[PlanAndBlock, RiskReason],
    now: datetime,
) -> tuple[Risk, ...]:
    """Make it so that of these blocks just the risks found are open; those that are new."""
    query = sa.select(risk.c.n, risk.c.plan_id, risk.c.block_id, risk.c.reason).where(
        risk.c.site_id == of, risk.c.block_id.in_(names), risk.c.settled_at.is_(None)
    )
    held = set[PlanAndBlock]()
    over: list[int] = []
    for row in connection.execute(query):
        key = (row.plan_id, row.block_id)
        # A more urgent plan has the block, whatever becomes of it.
        if row.reason == "displaced" or found.get(key) == row.reason:
            held.add(key)
        else:
            over.append(row.n)
    if over:
        connection.execute(sa.update(risk).where(risk.c.n.in_(over)).values(settled_at=now))
    return mark_plans(connection, of, {k: why for k, why in found.items() if k not in held}, now)


def mark_plans(
    connection: sa.Connection, of: str, found: Mapping[PlanAndBlock, RiskReason], now: datetime
) -> tuple[Risk, ...]:
    """Mark plans as at risk: the one way in. Whoever calls writes it into history."""
    rows = [
        {"site_id": of, "plan_id": name, "block_id": block, "reason": why, "noted_at": now}
        for (name, block), why in found.items()
    ]
    if not rows:
        return ()
    connection.execute(sa.insert(risk), rows)
    there = open_risks(connection, of, sorted({block for _, block in found}))
    return tuple(each for each in there if (each.plan, each.block) in found)


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
