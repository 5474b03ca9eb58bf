"""How much there is of what an operator watches, over all sites."""

from datetime import date, datetime

import sqlalchemy as sa
from msgspec import Struct

from wrung_service.store.batches.batches import waiting
from wrung_service.store.blocks import NEVER_DUE
from wrung_service.store.tables import block, loan, plan, promise, risk, webhook_delivery


class Figures(Struct, frozen=True, kw_only=True):
    """Numbers at one moment.

    Attributes:
        promised_blocks: blocks that a plan holds now or later.
        blocks_out: blocks that went out and are not back.
        overdue_loans: those of them that were due before now.
        overdue_calibrations: blocks whose last day of use before calibration is over (UTC).
        plans_at_risk: planned, and counting on a block that they will not have as promised.
        waiting_webhooks: messages that were neither delivered nor given up.
        waiting_batches: batches that are not answered in full.
        waiting_requests: the requests of these that wait for a worker, or are with one.
        oldest_batch_seconds: for how long the oldest of these batches waits, s.
    """

    promised_blocks: int
    blocks_out: int
    overdue_loans: int
    overdue_calibrations: int
    plans_at_risk: int
    waiting_webhooks: int
    waiting_batches: int
    waiting_requests: int
    oldest_batch_seconds: float


def count_figures(connection: sa.Connection, now: datetime) -> Figures:
    """The numbers of this moment."""
    out = loan.c.returned_at.is_(None)
    held = sa.select(promise.c.site_id, promise.c.block_id).where(
        promise.c.released_at.is_(None), promise.c.ends_at > now
    )
    at_risk = (
        sa.select(sa.func.count(risk.c.plan_id.distinct()))
        .join(plan, plan.c.id == risk.c.plan_id)
        .where(risk.c.settled_at.is_(None), plan.c.state == "planned")
    )
    numbers = {
        "promised_blocks": _rows(held.distinct().subquery()),
        "blocks_out": _rows(loan, out),
        "overdue_loans": _rows(loan, out, loan.c.due_at < now),
        "overdue_calibrations": _rows(block, *_overdue(now.date())),
        "plans_at_risk": at_risk,
        "waiting_webhooks": _rows(webhook_delivery, webhook_delivery.c.next_try_at.is_not(None)),
    }
    columns = [each.scalar_subquery().label(name) for name, each in numbers.items()]
    counted = connection.execute(sa.select(*columns)).mappings().one()
    depth = waiting(connection)
    return Figures(
        **counted,
        waiting_batches=depth.batches,
        waiting_requests=depth.requests,
        oldest_batch_seconds=(now - (depth.since or now)).total_seconds(),
    )


def _rows(of: sa.FromClause, *where: sa.ColumnElement[bool]) -> sa.Select[int]:
    return sa.select(sa.func.count()).select_from(of).where(*where)


def _overdue(today: date) -> tuple[sa.ColumnElement[bool], ...]:
    return block.c.due_on < today, block.c.condition.not_in(NEVER_DUE)
