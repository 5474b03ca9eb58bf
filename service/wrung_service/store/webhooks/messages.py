"""What a message says: its type, when it happened, and the figures (Standard Webhooks).

A message is small on purpose, and whoever needs more asks for it by the ids in it.
"""

from datetime import date, datetime
from typing import Annotated, Final, Literal, TypeAlias, get_args

from msgspec import Meta, Struct

from wrung_service.store.batches.batches import BatchState
from wrung_service.store.plans import PlanState

EventType: TypeAlias = Literal[
    "plan.at_risk",
    "plan.changed",
    "plan.expired",
    "block.late",
    "block.due",
    "block.overdue",
    "batch.ended",
]
"""What an endpoint can be told of."""
EVENT_TYPES: Final[tuple[EventType, ...]] = get_args(EventType)
TEST: Final = "webhook.test"
MOST_BYTES: Final = 20_000
"""Of a message's body: as much as the standard asks senders to stay below."""

_TYPE: Final = Meta(description="What happened.")
_Time: TypeAlias = Annotated[datetime, Meta(description="When it happened.")]
_Site: TypeAlias = Annotated[str, Meta(description="The site.")]
_Block: TypeAlias = Annotated[str, Meta(description="The block's id.")]


class PlanFigures(Struct, frozen=True, kw_only=True):
    """A plan as it is after what happened; `GET /v1/plans/{plan_id}` has all of it."""

    site: _Site
    plan: Annotated[str, Meta(description="The plan's id.")]
    job: Annotated[str, Meta(description="Its job.")]
    operation: Annotated[str | None, Meta(description="Its operation, if it has one.")]
    state: Annotated[PlanState, Meta(description="Its state.")]
    starts_at: Annotated[datetime, Meta(description="First moment of need.")]
    ends_at: Annotated[datetime, Meta(description="End of the last need.")]


class RiskFigures(PlanFigures, frozen=True, kw_only=True):
    """A plan, and the block that it counts on and will not have."""

    block: _Block
    reason: Annotated[str, Meta(description="Why not, as `reason` of a plan at risk.")]


class ChangeFigures(PlanFigures, frozen=True, kw_only=True):
    """A plan, and who changed it."""

    by: Annotated[str, Meta(description="Who changed it.")]
    why: Annotated[str | None, Meta(description="The reason that they gave, if any.")]


class LateFigures(Struct, frozen=True, kw_only=True):
    """A block that is out and should be back."""

    site: _Site
    block: _Block
    plan: Annotated[str | None, Meta(description="The plan that it went out for.")]
    borrower: Annotated[str | None, Meta(description="Who took it, if that was said.")]
    issued_at: Annotated[datetime, Meta(description="When it went out.")]
    due_at: Annotated[datetime, Meta(description="When it should have been back.")]


class DueFigures(Struct, frozen=True, kw_only=True):
    """A block with its last day of use before the next calibration."""

    site: _Site
    block: _Block
    set: Annotated[str | None, Meta(description="Its set.")]
    certificate: Annotated[str | None, Meta(description="Number of its certificate.")]
    due_on: Annotated[
        date, Meta(description="The last day, which ends at midnight in the site's time zone.")
    ]


class BatchFigures(Struct, frozen=True, kw_only=True):
    """A batch that has ended; `GET /v1/batches/{batch_id}/results` has its answers."""

    site: _Site
    batch: Annotated[str, Meta(description="The batch's id.")]
    state: Annotated[BatchState, Meta(description="How it ended.")]
    total: Annotated[int, Meta(description="How many requests it has.")]
    answered: Annotated[int, Meta(description="How many of them have an answer.")]
    failed: Annotated[int, Meta(description="How many of these answers are problems.")]


class TestFigures(Struct, frozen=True, kw_only=True):
    """Which endpoint is tested."""

    site: _Site
    webhook: Annotated[str, Meta(description="The endpoint's id.")]


class PlanAtRiskMessage(Struct, frozen=True, kw_only=True):
    """A plan counts on a block that it will not have: plan it anew."""

    type: Annotated[Literal["plan.at_risk"], _TYPE] = "plan.at_risk"
    timestamp: _Time
    data: RiskFigures


class PlanChangedMessage(Struct, frozen=True, kw_only=True):
    """A plan has other stacks, or somebody ended it: `state` says which."""

    type: Annotated[Literal["plan.changed"], _TYPE] = "plan.changed"
    timestamp: _Time
    data: ChangeFigures


class PlanExpiredMessage(Struct, frozen=True, kw_only=True):
    """A plan was not used in its time; its blocks are free."""

    type: Annotated[Literal["plan.expired"], _TYPE] = "plan.expired"
    timestamp: _Time
    data: PlanFigures


class BlockLateMessage(Struct, frozen=True, kw_only=True):
    """A block is out and should be back already."""

    type: Annotated[Literal["block.late"], _TYPE] = "block.late"
    timestamp: _Time
    data: LateFigures


class BlockDueMessage(Struct, frozen=True, kw_only=True):
    """A block will soon be due for calibration: as soon as the endpoint's `due_days` say."""

    type: Annotated[Literal["block.due"], _TYPE] = "block.due"
    timestamp: _Time
    data: DueFigures


class BlockOverdueMessage(Struct, frozen=True, kw_only=True):
    """A block's calibration has run out: no plan takes it any longer."""

    type: Annotated[Literal["block.overdue"], _TYPE] = "block.overdue"
    timestamp: _Time
    data: DueFigures


class BatchEndedMessage(Struct, frozen=True, kw_only=True):
    """A batch of the site has ended: it is done, or was cancelled, or its time is over."""

    type: Annotated[Literal["batch.ended"], _TYPE] = "batch.ended"
    timestamp: _Time
    data: BatchFigures


class TestMessage(Struct, frozen=True, kw_only=True):
    """Somebody tests the endpoint; nothing happened."""

    type: Annotated[Literal["webhook.test"], _TYPE] = TEST
    timestamp: _Time
    data: TestFigures


Message: TypeAlias = (
    PlanAtRiskMessage
    | PlanChangedMessage
    | PlanExpiredMessage
    | BlockLateMessage
    | BlockDueMessage
    | BlockOverdueMessage
    | BatchEndedMessage
    | TestMessage
)
