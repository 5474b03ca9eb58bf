"""Plans as they stand on the wire."""

from typing import Annotated

from msgspec import Meta, Struct

from wrung_service.api.plans.request import PlanRequest
from wrung_service.api.records.shape import StackRecord
from wrung_service.api.shelf.paging import NextPage
from wrung_service.api.stacks.answer import StackAnswer
from wrung_service.api.texts import ROLE, Moment
from wrung_service.store.plans import PlanState


class PlanSummary(Struct, frozen=True, kw_only=True):
    """A plan, without its stacks."""

    id: Annotated[str, Meta(description="Made by the service.")]
    site: Annotated[str, Meta(description="The site whose blocks it has.")]
    job: Annotated[str, Meta(description="The job that it is for.")]
    operation: Annotated[str | None, Meta(description="The operation of the job.")]
    priority: Annotated[int | None, Meta(description="1 is the most urgent, null the least.")]
    state: Annotated[
        PlanState,
        Meta(
            description="`planned`: its blocks are promised. `done`, `cancelled`; `expired`: not "
            "used in its time. Blocks of the last three are free."
        ),
    ]
    at_risk: Annotated[
        tuple[str, ...],
        Meta(description="Blocks that it counts on and will not have: plan it anew."),
    ]
    needed_from: Annotated[Moment, Meta(description="Start of the need of its first stack.")]
    needed_until: Annotated[Moment, Meta(description="End of the need of its last stack.")]
    pause_minutes: Annotated[
        int, Meta(description="How long its blocks rest after their use; promised, too.")
    ]
    expires_at: Annotated[
        Moment | None, Meta(description="When it expires if no block of it was issued.")
    ]
    made_at: Annotated[Moment, Meta(description="When it was made.")]
    made_by: Annotated[str, Meta(description="Who made it.")]
    ended_at: Annotated[Moment | None, Meta(description="When it ended, if it has.")]
    version: Annotated[int, Meta(description="Counted from 1, one more with each change.")]


class BlockPromise(Struct, frozen=True, kw_only=True):
    """A block, and when the plan has it."""

    block: Annotated[str, Meta(description="Its id.")]
    target: Annotated[str, Meta(description="The target of the first stack that it is for.")]
    role: Annotated[str | None, Meta(description=ROLE)]
    starts_at: Annotated[Moment, Meta(description="From when it is promised.")]
    ends_at: Annotated[
        Moment, Meta(description="Up to when, itself not included; with the pause after the use.")
    ]


class StackChange(Struct, frozen=True, kw_only=True):
    """A stack that is planned anew."""

    target: Annotated[str, Meta(description="Its target.")]
    role: Annotated[str | None, Meta(description=ROLE)]
    before: Annotated[tuple[str, ...], Meta(description="Ids of its blocks until now.")]
    after: Annotated[
        tuple[str, ...] | None,
        Meta(description="Ids of its blocks from now on; null if it cannot be planned anew."),
    ]


class PlanChange(Struct, frozen=True, kw_only=True):
    """A plan whose stacks are planned anew."""

    plan: Annotated[str, Meta(description="Its id.")]
    job: Annotated[str, Meta(description="Its job.")]
    operation: Annotated[str | None, Meta(description="The operation of the job.")]
    priority: Annotated[int | None, Meta(description="1 is the most urgent, null the least.")]
    stacks: Annotated[tuple[StackChange, ...], Meta(description="Those that change, no others.")]


class PlanDetails(PlanSummary, frozen=True, kw_only=True):
    """A plan with its stacks."""

    promises: Annotated[
        tuple[BlockPromise, ...], Meta(description="What it has; empty when it has ended.")
    ]
    changes: Annotated[
        tuple[PlanChange, ...],
        Meta(
            description="What was planned anew just now: less urgent plans that gave way to it, or "
            "its own stacks. Empty when it is read later; the history has it."
        ),
    ]
    request: Annotated[PlanRequest, Meta(description="As it was sent.")]
    answer: Annotated[StackAnswer, Meta(description="As `POST /v1/stacks` gives it.")]
    record: Annotated[
        StackRecord,
        Meta(
            description="With the blocks and their certificates as they were when it was planned."
        ),
    ]


class PlanList(Struct, frozen=True, kw_only=True):
    """Plans of a site, by the start of their need."""

    plans: Annotated[tuple[PlanSummary, ...], Meta(description="One page of them.")]
    next: NextPage


class PlanPreview(Struct, frozen=True, kw_only=True):
    """What a plan would be, and what it would change; nothing is kept."""

    answer: Annotated[StackAnswer, Meta(description="As `POST /v1/stacks` gives it.")]
    changes: Annotated[
        tuple[PlanChange, ...],
        Meta(description="Less urgent plans that would give way, if `displace` allows it."),
    ]
    possible: Annotated[
        bool, Meta(description="Whether `POST /v1/plans` would keep it, as things stand now.")
    ]
    decided: Annotated[
        bool,
        Meta(
            description="Whether `possible` is settled. If false, no plan was found before the "
            "search ended, at its time limit or its limit of effort; there may be one."
        ),
    ]
