"""A record as CSV (RFC 4180): one row a block, with what its stack and the record say."""

from collections.abc import Iterable, Iterator
from typing import Final

import msgspec
from msgspec import UNSET

from wrung_service.api.csv_table import write_table
from wrung_service.api.records.shape import RecordedBlock, RecordedStack, StackRecord

CSV: Final = "text/csv"

_RECORD: Final = ("made_at", "version", "request_sha256")
_STACK: Final = ("target", "role", "length", "nominal", "deviation", "worst_case_error")
_BLOCK: Final = RecordedBlock.__struct_fields__
RECORD_HEAD: Final = (
    *_RECORD,
    "labels",
    *(f"stack_{name}" if name in _BLOCK else name for name in _STACK),
    "stack_unit",
    "small_unit",
    "place",
    *(f"block_{name}" if name in {*_STACK, "id", "set", "unit"} else name for name in _BLOCK),
)


def as_csv(record: StackRecord) -> bytes:
    """The table, in UTF-8 with a heading."""
    return write_table(RECORD_HEAD, record_rows(record))


def record_rows(record: StackRecord) -> Iterator[Iterable[object]]:
    """One row a block, with the columns of `RECORD_HEAD`."""
    labels = {each.target: each.labels for each in record.targets}
    for stack in record.stacks:
        own = msgspec.json.encode(labels[stack.target]).decode()
        for place, block in enumerate(stack.blocks, 1):
            yield _row(record, own, stack, place, block)


def _row(
    record: StackRecord, labels: str, stack: RecordedStack, place: int, block: RecordedBlock
) -> Iterator[object]:
    yield from (record.made_at, record.version, record.request_sha256, labels)
    yield from _members(stack, _STACK)
    yield from (record.unit, record.small_unit, place)
    yield from _members(block, _BLOCK)


def _members(struct: RecordedStack | RecordedBlock, names: Iterable[str]) -> Iterator[object]:
    values = (getattr(struct, name) for name in names)
    return (None if value is UNSET else value for value in values)
