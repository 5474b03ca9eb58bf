"""Plans that count on blocks which change: marked where their answers are no longer true.

Every change of a block, and of the days it may be used on, comes by here in its transaction. A plan
is judged by the blocks as they are, not by what changed, so that a change that is undone leaves
nobody at risk.
"""

from collections.abc import Iterator, Sequence
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import sqlalchemy as sa

from wrung.blocks import Block
from wrung_service.store import history
from wrung_service.store.blocks import KeptBlock
from wrung_service.store.risks import (
    CountingPlan,
    PlanAndBlock,
    Risk,
    RiskReason,
    keep_risks,
    plans_counting_on,
)
from wrung_service.store.shelves import time_zone_of
from wrung_service.usecases.recorded_blocks import Asked, asked_of, recorded_blocks
from wrung_service.usecases.shelf.acting import Acting
from wrung_service.usecases.still_true import still_true


def note_risks(
    connection: sa.Connection, site: str, changed: Sequence[KeptBlock], by: Acting
) -> tuple[history.Event, ...]:
    """Mark the plans that cannot count on these blocks, as they are now, and unmark all others.

    The events are for whoever called, to be written as the last thing.
    """
    if not changed:
        return ()
    found: dict[PlanAndBlock, RiskReason] = {
        (plan.id, name): reason for plan, name, reason in _found(connection, site, changed, by.at)
    }
    names = [each.block.id for each in changed]
    marked = keep_risks(connection, site, names, found, by.at)
    return tuple(risk_event(site, risk, by.who, by.at) for risk in marked)


def risks_of_change(
    connection: sa.Connection, site: str, changed: Sequence[KeptBlock], now: datetime
) -> tuple[Risk, ...]:
    """Which plans could not count on these blocks if they were so; nothing is written."""
    return tuple(
        Risk(
            plan=plan.id,
            job=plan.job,
            operation=plan.operation,
            starts_at=plan.starts_at,
            block=name,
            reason=reason,
            noted_at=now,
        )
        for plan, name, reason in _found(connection, site, changed, now)
    )


def risk_event(site: str, risk: Risk, who: str, at: datetime) -> history.Event:
    """What history says of it."""
    return history.Event(
        site=site,
        at=at,
        who=who,
        what="plan.at_risk",
        kind="plan",
        subject=risk.plan,
        job=risk.job,
        detail={"block": risk.block, "reason": risk.reason},
    )


def _found(
    connection: sa.Connection, site: str, changed: Sequence[KeptBlock], now: datetime
) -> Iterator[tuple[CountingPlan, str, RiskReason]]:
    blocks = {each.block.id: each for each in changed}
    plans = plans_counting_on(connection, site, sorted(blocks), now)
    if not plans:
        return
    zone = ZoneInfo(time_zone_of(connection, site))
    for plan in plans:
        asked, recorded = asked_of(plan.request), recorded_blocks(plan.record)
        day = asked.used_on or _last_day(plan.ends_at, zone)
        for name in plan.blocks:
            reason = _reason(blocks[name], recorded.get(name), asked, day)
            if reason is not None:
                yield plan, name, reason


def _last_day(ends_at: datetime, zone: ZoneInfo) -> date:
    """The last day of need; its end is no part of it."""
    return (ends_at - timedelta(microseconds=1)).astimezone(zone).date()


def _reason(kept: KeptBlock, recorded: Block | None, asked: Asked, day: date) -> RiskReason | None:
    """Why a plan cannot count on a block; None if it can."""
    block, known = kept.block, kept.block.calibration
    if block.body is not None and recorded is None:
        # Another step than the one in use; where the whole step block is gone, that one is, too.
        return None
    if kept.condition != "fit":
        return kept.condition
    if known is not None and known.overdue(day) and not asked.allow_overdue:
        return "overdue"
    if asked.crib.sets and block.set not in asked.crib.sets:
        return "moved"
    if recorded is not None and not still_true(recorded, block, day):
        return "changed"
    return None
