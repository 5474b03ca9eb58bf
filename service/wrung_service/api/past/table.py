"""A job as CSV: one row a block of each record, with its plan before it."""

from collections.abc import Iterable, Iterator
from typing import Final

import msgspec

from wrung_service.api.csv_table import write_table
from wrung_service.api.records.shape import StackRecord
from wrung_service.api.records.table import RECORD_HEAD, record_rows
from wrung_service.store.past_plans import PastPlan
from wrung_service.usecases.look_back import PastJob

_PLAN: Final = ("site_id", "job", "operation", "id", "state", "starts_at", "ends_at", "ended_at")
_HEAD: Final = (
    *("site", "job", "operation", "plan", "state", "needed_from", "needed_until", "ended_at"),
    "replaced_at",
    *RECORD_HEAD,
)
_RECORDS: Final = msgspec.json.Decoder(StackRecord)


def job_as_csv(past: PastJob) -> bytes:
    """The table, in UTF-8 with a heading."""
    return write_table(_HEAD, (row for each in past.plans for row in _rows(each)))


def _rows(past: PastPlan) -> Iterator[Iterable[object]]:
    plan = [getattr(past.plan, name) for name in _PLAN]
    for each in past.records:
        for row in record_rows(_RECORDS.decode(each.record)):
            yield (*plan, each.replaced_at, *row)
