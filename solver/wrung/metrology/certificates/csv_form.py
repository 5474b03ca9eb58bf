"""Certificates as CSV.

The first line names the columns, in any order; see `COLUMNS`. Needed are ``id``, ``nominal``,
``deviation`` and ``expanded_uncertainty`` or ``standard_uncertainty``. Fields are parted by commas,
or by semicolons or tabs if the first line is; decimals by a point. UTF-8. Empty fields state
nothing, columns of other names are ignored and reported.
"""

import csv
from collections.abc import Iterator, Sequence
from io import StringIO
from typing import Final

from wrung.lengths import Unit
from wrung.metrology.certificates.assembling import assemble
from wrung.metrology.certificates.limits import MOST_BLOCKS, MOST_BYTES
from wrung.metrology.certificates.report import CertificateImport, Remark, refuse
from wrung.metrology.certificates.stated import COLUMNS, Stated

_SEPARATORS: Final = (";", "\t")
_FIRST_LINE: Final = "line 1"


class _UnreadableError(Exception):
    """The lines cannot be parted into fields; says where and why."""

    def __init__(self, where: str, text: str) -> None:
        super().__init__(text)
        self.where = where
        self.text = text


def read_csv(data: bytes, *, unit: Unit = "mm") -> CertificateImport:
    """Read certified blocks from CSV.

    Args:
        data: the file.
        unit: unit of blocks whose ``unit`` column is empty or missing.
    """
    try:
        header, lines = _parted(data)
        _check_header(header)
        stated = tuple(_stated(header, lines))
    except _UnreadableError as error:
        return refuse("csv", error.where, error.text)
    ignored = [
        Remark(location=f"column {name[:40]!r}", text="is not known and was not read.")
        for name in header
        if name not in COLUMNS
    ]
    return assemble("csv", stated, unit=unit, ignored=ignored)


def _parted(data: bytes) -> tuple[list[str], list[tuple[int, list[str]]]]:
    """The header, and the numbered lines that are not empty."""
    if len(data) > MOST_BYTES:
        raise _UnreadableError("the document", f"is larger than {MOST_BYTES} bytes.")
    try:
        # Spreadsheets put a byte order mark before their first column's name.
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise _UnreadableError("the document", "is not text in UTF-8.") from None
    first = text.partition("\n")[0]
    separator = next((each for each in _SEPARATORS if each in first), ",")
    reader = csv.reader(StringIO(text, newline=""), delimiter=separator, strict=True)
    lines: list[tuple[int, list[str]]] = []
    try:
        for fields in reader:
            lines.append((reader.line_num, [field.strip() for field in fields]))
            # One more for the header; counted while reading, so that memory stays bounded.
            if len(lines) > MOST_BLOCKS + 1:
                raise _UnreadableError("the document", f"has more than {MOST_BLOCKS} blocks.")
    except csv.Error as error:
        raise _UnreadableError(f"line {reader.line_num}", f"is not CSV: {error}.") from None
    header = lines[0][1] if lines else []
    return header, [line for line in lines[1:] if any(line[1])]


def _check_header(header: Sequence[str]) -> None:
    repeated = [name for name in COLUMNS if header.count(name) > 1]
    if repeated:
        raise _UnreadableError(_FIRST_LINE, f"names the column {repeated[0]} twice.")
    missing = [name for name in ("id", "nominal", "deviation") if name not in header]
    if missing:
        raise _UnreadableError(_FIRST_LINE, f"has no column {' and no column '.join(missing)}.")


def _stated(header: Sequence[str], lines: Sequence[tuple[int, list[str]]]) -> Iterator[Stated]:
    for number, fields in lines:
        if len(fields) != len(header):
            text = f"has {len(fields)} fields where line 1 has {len(header)}; a decimal comma?"
            raise _UnreadableError(f"line {number}", text)
        # An empty field states nothing, which is not the same as an empty text.
        known = {n: f for n, f in zip(header, fields, strict=True) if n in COLUMNS and f}
        yield Stated(location=f"line {number}", **known)
