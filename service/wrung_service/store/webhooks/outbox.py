"""What happened becomes messages, in the transaction in which it happens.

So nothing that happened is left out, and nothing is told that was undone.
"""

from collections.abc import Sequence
from typing import Any, Final

import msgspec
import sqlalchemy as sa

from wrung_service.store.batches.batches import BatchState
from wrung_service.store.happened import Event
from wrung_service.store.plans import plan_head
from wrung_service.store.webhooks.deliveries import add_message
from wrung_service.store.webhooks.endpoints import open_endpoints
from wrung_service.store.webhooks.messages import (
    BatchEndedMessage,
    BatchFigures,
    ChangeFigures,
    EventType,
    Message,
    PlanAtRiskMessage,
    PlanChangedMessage,
    PlanExpiredMessage,
    PlanFigures,
    RiskFigures,
)

_TOLD: Final[dict[str, EventType]] = {
    "plan.at_risk": "plan.at_risk",
    "plan.replanned": "plan.changed",
    "plan.done": "plan.changed",
    "plan.cancelled": "plan.changed",
    "plan.expired": "plan.expired",
    "batch.done": "batch.ended",
    "batch.cancelled": "batch.ended",
    "batch.expired": "batch.ended",
}
"""By what history says, what endpoints are told."""


def tell(connection: sa.Connection, happened: Sequence[Event]) -> None:
    """Write down what endpoints of a site are to be told of events in it."""
    told: list[tuple[Event, EventType]] = [
        (event, _TOLD[event.what]) for event in happened if event.what in _TOLD
    ]
    if not told:
        return
    endpoints = open_endpoints(connection, told[0][0].site)
    for event, kind in told:
        if wanted := [each.id for each in endpoints if kind in each.events]:
            add_message(connection, event.site, wanted, _message(connection, event, kind), event.at)


def _message(connection: sa.Connection, event: Event, kind: EventType) -> Message:
    if kind == "batch.ended":
        state: BatchState = msgspec.convert(event.what.removeprefix("batch."), BatchState)
        ended = BatchFigures(site=event.site, batch=event.subject, state=state, **event.detail)
        return BatchEndedMessage(timestamp=event.at, data=ended)
    plan = plan_head(connection, event.subject)
    figures: dict[str, Any] = {
        "site": plan.site_id,
        "plan": plan.id,
        "job": plan.job,
        "operation": plan.operation,
        "state": plan.state,
        "starts_at": plan.starts_at,
        "ends_at": plan.ends_at,
    }
    match kind:
        case "plan.at_risk":
            detail = event.detail
            risk = RiskFigures(**figures, block=detail["block"], reason=detail["reason"])
            return PlanAtRiskMessage(timestamp=event.at, data=risk)
        case "plan.changed":
            change = ChangeFigures(**figures, by=event.who, why=event.why)
            return PlanChangedMessage(timestamp=event.at, data=change)
        case _:
            return PlanExpiredMessage(timestamp=event.at, data=PlanFigures(**figures))
