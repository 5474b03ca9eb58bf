"""History, jobs and recalls as they stand on the wire."""

from datetime import date
from typing import Annotated, Any

from msgspec import Meta, Struct

from wrung.lengths import SmallUnit
from wrung_service.api.loans.shapes import BlockLoan
from wrung_service.api.plans.answer import PlanSummary
from wrung_service.api.records.shape import RecordedBlock, StackRecord
from wrung_service.api.shelf.paging import NextPage
from wrung_service.api.texts import ROLE, Moment
from wrung_service.store.plans import PlanState

_HASH = r"\A[0-9a-f]{64}\Z"


class HistoryEntry(Struct, frozen=True, kw_only=True):
    """Something that happened: who did what, when and why."""

    site: Annotated[str, Meta(description="Id of the site.")]
    number: Annotated[int, Meta(description="Counted from 1 in each site, without a gap.")]
    at: Annotated[
        str,
        Meta(
            description="When: UTC with microseconds, as it goes into the hash.",
            extra_json_schema={"format": "date-time"},
        ),
    ]
    who: Annotated[str, Meta(description="Holder and id of the key, or subject of the token.")]
    what: Annotated[
        str, Meta(description="Such as `plan.made` or `block.condition`. More may be added.")
    ]
    why: Annotated[str | None, Meta(description="The reason that somebody gave.")]
    kind: Annotated[
        str,
        Meta(
            description="What it is about: `site`, `set`, `block`, `plan`, `batch`, `webhook` or "
            "`key`."
        ),
    ]
    subject: Annotated[str, Meta(description="The id of that.")]
    job: Annotated[str | None, Meta(description="The job that it belongs to, if any.")]
    detail: Annotated[dict[str, Any], Meta(description="Figures as they were then.")]
    previous: Annotated[
        str, Meta(pattern=_HASH, description="The hash before this one; of the first, zeros.")
    ]
    hash: Annotated[
        str,
        Meta(
            pattern=_HASH,
            description="SHA-256, in hexadecimal, of the canonical form (RFC 8785) of all the "
            "other members.",
        ),
    ]


class History(Struct, frozen=True, kw_only=True):
    """Entries of a site's history."""

    entries: Annotated[tuple[HistoryEntry, ...], Meta(description="The oldest first.")]
    next: NextPage


class KeptRecord(Struct, frozen=True, kw_only=True):
    """A record of a plan, and how long it was its record."""

    replaced_at: Annotated[
        Moment | None,
        Meta(description="When the plan got another one; null: it is its last."),
    ]
    record: Annotated[
        StackRecord, Meta(description="As it was made, whatever became of the blocks since.")
    ]


class JobPlan(PlanSummary, frozen=True, kw_only=True):
    """A plan of a job, with every record that it had."""

    records: Annotated[
        tuple[KeptRecord, ...],
        Meta(description="The oldest first; more than one if it was planned anew."),
    ]
    loans: Annotated[
        tuple[BlockLoan, ...], Meta(description="The blocks that went out for it, in that order.")
    ]


class JobHistory(Struct, frozen=True, kw_only=True):
    """A job as it was: blocks, certificates and figures of the time when it was planned."""

    site: Annotated[str, Meta(description="Id of the site.")]
    job: Annotated[str, Meta(description="The job.")]
    plans: Annotated[tuple[JobPlan, ...], Meta(description="By the start of their need.")]
    entries: Annotated[
        tuple[HistoryEntry, ...], Meta(description="What history says of it, the oldest first.")
    ]


class RecalledUse(Struct, frozen=True, kw_only=True):
    """A block in a stack of a plan, as it was recorded."""

    job: Annotated[str, Meta(description="The job.")]
    operation: Annotated[str | None, Meta(description="The operation of the job.")]
    plan: Annotated[str, Meta(description="Id of the plan.")]
    state: Annotated[PlanState, Meta(description="State of the plan.")]
    target: Annotated[
        str | None,
        Meta(
            description="The target's `ref`. Null, with all that a record says, if the block went "
            "out for the plan without being in a record of it."
        ),
    ]
    role: Annotated[str | None, Meta(description=ROLE)]
    needed_from: Annotated[Moment, Meta(description="Start of the need of the stack.")]
    needed_until: Annotated[Moment, Meta(description="End of that need.")]
    issued_at: Annotated[
        Moment | None, Meta(description="When the block went out for it, if it did.")
    ]
    returned_at: Annotated[Moment | None, Meta(description="When it came back, if it did.")]
    recorded_at: Annotated[Moment | None, Meta(description="When the record was made.")]
    replaced_at: Annotated[
        Moment | None,
        Meta(
            description="When the plan got another record, without this use; null: it is its last."
        ),
    ]
    small_unit: Annotated[
        SmallUnit | None, Meta(description="Unit of the deviation and uncertainty of `block`.")
    ]
    block: Annotated[
        RecordedBlock | None,
        Meta(description="With certificate, deviation and uncertainty as recorded then."),
    ]


class BlockRecall(Struct, frozen=True, kw_only=True):
    """Where a block was used since a day, and where it is still going to be."""

    site: Annotated[str, Meta(description="Id of the site.")]
    block: Annotated[str, Meta(description="Id of the block.")]
    since: Annotated[date, Meta(description="As asked: from the beginning of that day there.")]
    used: Annotated[
        tuple[RecalledUse, ...],
        Meta(
            description="Done plans, and any other plan that the block went out for or that was "
            "planned anew during its use: judge these parts again."
        ),
    ]
    planned: Annotated[
        tuple[RecalledUse, ...],
        Meta(description="Planned, and the block has not gone out: plan these anew without it."),
    ]
