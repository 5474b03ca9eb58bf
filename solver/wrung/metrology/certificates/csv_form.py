"""Certificates as CSV.

The first line names the columns, in any order and with any capitals; see `COLUMNS`. Needed are
``id``, ``nominal``, ``deviation`` and ``expanded_uncertainty`` or ``standard_uncertainty``. Fields
are separated by commas, or by semicolons or tabs if the first line is. Decimals have a point; where
fields are separated by semicolons or tabs, all of them may have a comma instead, as spreadsheets
write them in many countries. UTF-8, with or without a byte order mark. Empty fields state nothing,
columns of other names are ignored and reported.
"""

import csv
import re
from collections.abc import Iterator
from io import StringIO
from typing import Final

from msgspec import Struct
from msgspec.structs import replace

from wrung.checked_types import typed
from wrung.lengths import Unit
from wrung.metrology.certificates.assembling import assemble, unknown
from wrung.metrology.certificates.limits import MOST_BLOCKS, MOST_BYTES, MOST_COLUMNS
from wrung.metrology.certificates.report import CertificateImport, few, refuse
from wrung.metrology.certificates.stated import COLUMNS, FIGURES, Stated
from wrung.names import or_nearest

_SEPARATORS: Final = (";", "\t")
_FIRST_LINE: Final = "line 1"
_NEEDED: Final = ("id", "nominal", "deviation")
_WITH_COMMA: Final = re.compile(r"[+-]?[0-9]*,[0-9]+")
# Spreadsheets write it to one another, before the header.
_SEPARATOR_LINE: Final = re.compile(r"sep=[;,\t]\r?\n", re.IGNORECASE)


class _UnreadableError(Exception):
    """The lines cannot be split into fields; says where and why."""

    def __init__(self, where: str, text: str) -> None:
        super().__init__(where, text)
        self.where = where
        self.text = text


class _Sheet(Struct, frozen=True, kw_only=True):
    """A file in fields: its header in small letters, and the numbered lines that are not empty."""

    separator: str
    named: tuple[str, ...]
    lines: tuple[tuple[int, list[str]], ...]

    @property
    def header(self) -> tuple[str, ...]:
        """The names of the columns, as they are known."""
        return tuple(name.casefold().replace(" ", "_") for name in self.named)


@typed
def read_csv(data: bytes, *, unit: Unit = "mm") -> CertificateImport:
    """Read certified blocks from CSV.

    Args:
        data: the file.
        unit: unit of blocks whose ``unit`` column is empty or missing.
    """
    try:
        sheet = _parted(data)
        _check_header(sheet)
        stated = _with_points(sheet, tuple(_stated(sheet)))
    except _UnreadableError as error:
        return refuse("csv", error.where, error.text)
    unread = [
        (named, name)
        for named, name in zip(sheet.named, sheet.header, strict=True)
        if name not in COLUMNS
    ]
    ignored = few(unread, lambda each: unknown(f"column {each[0][:40]!r}", each[1]))
    return assemble("csv", stated, unit=unit, ignored=ignored)


def _parted(data: bytes) -> _Sheet:
    if len(data) > MOST_BYTES:
        raise _UnreadableError("the document", f"is larger than {MOST_BYTES} bytes.")
    try:
        # Spreadsheets put a byte order mark before their first column's name.
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise _UnreadableError("the document", "is not text in UTF-8.") from None
    # Blank, not cut, so that lines keep their numbers.
    text = _SEPARATOR_LINE.sub("\n", text, count=1) if _SEPARATOR_LINE.match(text) else text
    first = text.lstrip("\r\n").partition("\n")[0]
    separator = next((each for each in _SEPARATORS if each in first), ",")
    lines = [line for line in _fields(text, separator) if any(line[1])]
    named = lines[0][1] if lines else []
    return _Sheet(separator=separator, named=tuple(named), lines=tuple(lines[1:]))


def _fields(text: str, separator: str) -> Iterator[tuple[int, list[str]]]:
    reader = csv.reader(StringIO(text, newline=""), delimiter=separator, strict=True)
    try:
        # One more for the header; counted while reading, so that memory stays bounded.
        for count, fields in enumerate(reader):
            if count > MOST_BLOCKS + 1:
                raise _UnreadableError("the document", f"has more than {MOST_BLOCKS} blocks.")
            if len(fields) > MOST_COLUMNS:
                raise _UnreadableError(
                    f"line {reader.line_num}", f"has more than {MOST_COLUMNS} fields."
                )
            yield reader.line_num, [field.strip() for field in fields]
    except csv.Error as error:
        raise _UnreadableError(f"line {reader.line_num}", f"is not CSV: {error}.") from None


def _check_header(sheet: _Sheet) -> None:
    header = sheet.header
    repeated = [name for name in COLUMNS if header.count(name) > 1]
    if repeated:
        raise _UnreadableError(_FIRST_LINE, f"names the column {repeated[0]} twice.")
    missing = [name for name in _NEEDED if name not in header]
    if missing:
        found = ", ".join(repr(name[:40]) for name in sheet.named[:40]) or "none"
        unread = [name for name in header if name not in COLUMNS]
        meant = "".join(or_nearest(name, unread) for name in missing)
        raise _UnreadableError(
            _FIRST_LINE,
            f"has no column {' and no column '.join(missing)}{meant.replace('known', 'found')}. "
            f"Found: {found}. Known: {', '.join(COLUMNS)}.",
        )


def _stated(sheet: _Sheet) -> Iterator[Stated]:
    for number, fields in sheet.lines:
        if len(fields) != len(sheet.header):
            text = f"has {len(fields)} fields where line 1 has {len(sheet.header)}"
            # Decimal commas between commas look like more fields.
            more = sheet.separator == "," and len(fields) > len(sheet.header)
            advice = "; if decimals have a comma, part the fields by semicolons" if more else ""
            raise _UnreadableError(f"line {number}", f"{text}{advice}.")
        # An empty field states nothing, which is not the same as an empty text.
        known = {n: f for n, f in zip(sheet.header, fields, strict=True) if n in COLUMNS and f}
        yield Stated(location=f"line {number}", **known)


def _with_points(sheet: _Sheet, stated: tuple[Stated, ...]) -> tuple[Stated, ...]:
    """Decimal points for decimal commas, if the whole file has commas."""
    figures = [(each, name, getattr(each, name) or "") for each in stated for name in FIGURES]
    commas = [each for each in figures if _WITH_COMMA.fullmatch(each[2])]
    points = [each for each in figures if "." in each[2]]
    # Among commas as separators a comma is refused where it stands, with its reason.
    if not commas or sheet.separator == ",":
        return stated
    if points:
        # One of the two then separates thousands, and 1,234 must not be guessed at.
        (comma, name, one), (point, other, two) = commas[0], points[0]
        text = f"{one[:40]!r} has a decimal comma, and {two[:40]!r} a point"
        raise _UnreadableError(f"{comma.location}, {name}", f"{text} ({point.location}, {other}).")
    return tuple(_pointed(each) for each in stated)


def _pointed(stated: Stated) -> Stated:
    texts = {name: getattr(stated, name) for name in FIGURES}
    return replace(stated, **{n: text and text.replace(",", ".") for n, text in texts.items()})
