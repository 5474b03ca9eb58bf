"""A record as CSV (RFC 4180): one row a block, with what its stack and the record say."""

import csv
import io
import re
from collections.abc import Iterable, Iterator
from typing import Final

import msgspec

from wrung_service.api.records.shape import RecordedBlock, RecordedStack, StackRecord

CSV: Final = "text/csv"

_NUMBER: Final = re.compile(r"-?[0-9]+(\.[0-9]+)?")
_FORMULA: Final = ("=", "+", "-", "@", "\t", "\r", "\n", "|", "%")
"""What spreadsheets take for the beginning of a formula or of a command."""

_RECORD: Final = ("made_at", "version", "request_sha256")
_STACK: Final = ("target", "role", "length", "nominal", "deviation", "worst_case_error")
_BLOCK: Final = RecordedBlock.__struct_fields__
_HEAD: Final = (
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
    text = io.StringIO()
    writer = csv.writer(text)
    writer.writerow(_HEAD)
    labels = {each.target: each.labels for each in record.targets}
    for stack in record.stacks:
        for place, block in enumerate(stack.blocks, 1):
            own = msgspec.json.encode(labels[stack.target]).decode()
            writer.writerow(map(_cell, _row(record, own, stack, place, block)))
    return text.getvalue().encode()


def _row(
    record: StackRecord, labels: str, stack: RecordedStack, place: int, block: RecordedBlock
) -> Iterator[object]:
    yield from (record.made_at.isoformat(), record.version, record.request_sha256, labels)
    yield from _members(stack, _STACK)
    yield from (record.unit, record.small_unit, place)
    yield from _members(block, _BLOCK)


def _members(struct: RecordedStack | RecordedBlock, names: Iterable[str]) -> Iterator[object]:
    return (getattr(struct, name) for name in names)


def _cell(value: object) -> str:
    """The text of a cell; what a spreadsheet would evaluate gets a quotation mark before it."""
    text = "" if value is None else str(value)
    return f"'{text}" if text.startswith(_FORMULA) and not _NUMBER.fullmatch(text) else text
