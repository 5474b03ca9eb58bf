"""A shelf as CSV: one block a line, the columns of `BlockRow`."""

import re
from collections.abc import Iterable, Mapping, Sequence
from typing import Any, Final

import msgspec
from msgspec import Raw, Struct
from msgspec.structs import asdict, astuple

from wrung.errors import Fault
from wrung.metrology.certificates.report import UnreadableError
from wrung.metrology.certificates.sheet import CsvSheet, read_sheet
from wrung.names import or_nearest
from wrung_service.api.csv_table import as_meant, write_table
from wrung_service.api.problem_types import UNPROCESSABLE_CONTENT
from wrung_service.api.problems import Refusal
from wrung_service.api.shelf.set_shape import MOST_BLOCKS
from wrung_service.store.blocks import KeptBlock
from wrung_service.usecases.shelf.rows import COLUMNS, OF_CALIBRATION, row_of

_NUMBERS: Final = (
    "coverage_factor",
    "degrees_of_freedom",
    "expansion",
    "expansion_uncertainty",
    "uses",
    "minutes_out",
)
_LENGTHS: Final = ("nominal", "limit_deviation", "deviation", "expanded_uncertainty", "variation")
_COMMA: Final = re.compile("[+\N{MINUS SIGN}-]?[0-9]*,[0-9]+([eE][+-]?[0-9]+)?")
_NUMBER: Final = re.compile(r"-?(0|[1-9][0-9]*)(\.[0-9]+)?([eE][+-]?[0-9]+)?")
_OF_TEXT: Final = {
    "must be an integer or null, not a string": "must be a whole number",
    "must be a number or null, not a string": "must be a number",
}
"""What is wrong with a field, where the JSON that it stands for has types."""
_KEPT: Final = ("condition", "uses", "minutes_out", "unit", "role")
"""An empty field leaves these as they are."""


class Lines(Struct, frozen=True, kw_only=True):
    """The blocks of a CSV, each by the columns that it has, and where it stands."""

    numbers: tuple[int, ...]
    rows: tuple[Mapping[str, str], ...]

    @property
    def names(self) -> tuple[str, ...]:
        """The ids."""
        return tuple(row.get("id", "") for row in self.rows)


def write_csv(blocks: Iterable[KeptBlock]) -> bytes:
    """The blocks, each in a line under the header."""
    return write_table(COLUMNS, (astuple(row_of(each)) for each in blocks))


def read_lines(data: bytes) -> Lines:
    """The blocks of a CSV.

    Raises:
        Refusal: 422, it is none, or has no such columns.
    """
    try:
        sheet = read_sheet(data, MOST_BLOCKS)
    except UnreadableError as error:
        raise refused([Fault(pointer="", detail=f"{error.where} {error.text}")]) from None
    _check_header(sheet)
    rows = [_row(sheet, number, fields) for number, fields in sheet.lines]
    return Lines(numbers=tuple(number for number, _ in sheet.lines), rows=tuple(rows))


def as_json(lines: Lines, held: Mapping[str, KeptBlock]) -> bytes:
    """The body that says the same; columns that the CSV lacks are those of the crib's block."""
    blocks = [_members(row, held.get(row.get("id", ""))) for row in lines.rows]
    return msgspec.json.encode({"blocks": blocks})


def at_lines(refusal: Refusal, lines: Lines) -> Refusal:
    """A refusal of that body in terms of the CSV."""
    return refused([_fault(each, lines) for each in refusal.errors])


def refused(faults: Sequence[Fault]) -> Refusal:
    """Refuses a CSV."""
    more = f" ({len(faults) - 1} more, see errors)" if len(faults) > 1 else ""
    text = faults[0].detail.rstrip(".")
    return Refusal(UNPROCESSABLE_CONTENT, f"{text[:1].upper()}{text[1:]}{more}.", errors=faults)


def _fault(fault: Fault, lines: Lines) -> Fault:
    parts = fault.pointer.split("/")
    if parts[1:2] != ["blocks"] or not parts[2:]:
        return Fault(pointer="", detail=fault.detail)
    column = f", {parts[-1]}" if parts[3:] else ""
    line = lines.numbers[int(parts[2])]
    detail = _OF_TEXT.get(fault.detail, fault.detail)
    return Fault(pointer="", detail=f"line {line}{column}: {detail}")


def _check_header(sheet: CsvSheet) -> None:
    header = sheet.header
    if "id" not in header:
        text = f"line 1 has no column id; there are {', '.join(COLUMNS)}"
        raise refused([Fault(pointer="", detail=text)])
    for named, name in zip(sheet.named, header, strict=True):
        if name not in COLUMNS:
            meant = or_nearest(name, COLUMNS) or f"; there are {', '.join(COLUMNS)}"
            text = f"line 1 has an unknown column {named[:40]!r}{meant}"
            raise refused([Fault(pointer="", detail=text)])
        if header.count(name) > 1:
            raise refused([Fault(pointer="", detail=f"line 1 names the column {name} twice")])


def _row(sheet: CsvSheet, number: int, fields: Sequence[str]) -> dict[str, str]:
    if len(fields) != len(sheet.header):
        text = f"line {number} has {len(fields)} fields where line 1 has {len(sheet.header)}"
        raise refused([Fault(pointer="", detail=text)])
    row = dict(zip(sheet.header, map(as_meant, fields), strict=True))
    if sheet.separator != ",":
        # As spreadsheets write decimals in many countries; then a comma separates nothing else.
        for name in (*_LENGTHS, *_NUMBERS):
            if _COMMA.fullmatch(row.get(name, "")):
                row[name] = row[name].replace(",", ".")
    return row


def _members(row: Mapping[str, str], held: KeptBlock | None) -> dict[str, Any]:
    known = {} if held is None else asdict(row_of(held))
    merged = {**known, **{n: t or None for n, t in row.items() if t or n not in _KEPT}}
    # Without a word on it, the reason belongs to the condition that is there.
    if "condition" not in row and "condition_reason" not in row:
        merged["condition"] = merged["condition_reason"] = None
    said = {n: _value(n, t) for n, t in merged.items() if t is not None}
    calibration = {n: said.pop(n) for n in OF_CALIBRATION if n in said}
    return {**said, **({"calibration": calibration} if calibration else {})}


def _value(name: str, text: str) -> Any:  # noqa: ANN401 - JSON
    # What is no number stays text, which the schema then refuses.
    return Raw(text.encode()) if name in _NUMBERS and _NUMBER.fullmatch(text) else text
