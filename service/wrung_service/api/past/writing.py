"""From history in the store to the wire."""

from collections.abc import Iterable
from datetime import date
from typing import Any, cast

from msgspec.structs import asdict

from wrung_service.api.loans.shapes import write_loan
from wrung_service.api.past.answer import (
    BlockRecall,
    HistoryEntry,
    JobHistory,
    JobPlan,
    KeptRecord,
    RecalledUse,
)
from wrung_service.api.plans.writing import write_summary
from wrung_service.store.history import Entry
from wrung_service.store.instants import as_text
from wrung_service.store.past_plans import PastPlan
from wrung_service.usecases.look_back import PastJob
from wrung_service.usecases.recall import Recall, RecordedUse


def write_entry(entry: Entry) -> HistoryEntry:
    """An entry, with all that its hash covers as it covers it."""
    return HistoryEntry(
        site=entry.site,
        number=entry.number,
        at=as_text(entry.at),
        who=entry.who,
        what=entry.what,
        why=entry.why,
        kind=entry.kind,
        subject=entry.subject,
        job=entry.job,
        detail=dict(entry.detail),
        previous=entry.previous,
        hash=entry.hash,
    )


def write_job(site: str, job: str, past: PastJob) -> JobHistory:
    """A job as it was."""
    return JobHistory(
        site=site,
        job=job,
        plans=tuple(_plan(each, past.at_risk.get(each.plan.id, ())) for each in past.plans),
        entries=tuple(map(write_entry, past.history)),
    )


def _plan(past: PastPlan, at_risk: Iterable[str]) -> JobPlan:
    return JobPlan(
        **asdict(write_summary(past.plan, tuple(at_risk))),
        records=tuple(
            # As it was kept, not read and written again.
            KeptRecord(replaced_at=each.replaced_at, record=cast("Any", each.record))
            for each in past.records
        ),
        loans=tuple(map(write_loan, past.loans)),
    )


def write_recall(site: str, block: str, since: date, found: Recall) -> BlockRecall:
    """Where a block was used, and is going to be."""
    return BlockRecall(
        site=site,
        block=block,
        since=since,
        used=tuple(map(_use, found.used)),
        planned=tuple(map(_use, found.planned)),
    )


def _use(use: RecordedUse) -> RecalledUse:
    return RecalledUse(
        job=use.plan.job,
        operation=use.plan.operation,
        plan=use.plan.id,
        state=use.plan.state,
        target=use.target,
        role=use.role,
        needed_from=use.needed_from,
        needed_until=use.needed_until,
        issued_at=use.issued_at,
        returned_at=use.returned_at,
        recorded_at=use.recorded_at,
        replaced_at=use.replaced_at,
        small_unit=cast("Any", use.small_unit),
        block=cast("Any", use.block),
    )
