"""Certificates as CSV.

The first line names the columns, in any order and with any capitals; see `COLUMNS`. Needed are
``id``, ``nominal``, ``deviation`` and ``expanded_uncertainty`` or ``standard_uncertainty``. Fields
are separated by commas, or by semicolons or tabs if the first line is. Decimals have a point; where
fields are separated by semicolons or tabs, all of them may have a comma instead, as spreadsheets
write them in many countries. UTF-8, with or without a byte order mark. Empty fields state nothing,
columns of other names are ignored and reported.
"""

import re
from collections.abc import Iterator
from typing import Final

from msgspec.structs import replace

from wrung.checked_types import typed
from wrung.lengths import Unit
from wrung.metrology.certificates.assembling import assemble, unknown
from wrung.metrology.certificates.limits import MOST_BLOCKS
from wrung.metrology.certificates.report import CertificateImport, UnreadableError, few, refusing
from wrung.metrology.certificates.sheet import CsvSheet, read_sheet
from wrung.metrology.certificates.stated import COLUMNS, FIGURES, Stated
from wrung.names import or_nearest

_FIRST_LINE: Final = "line 1"
_NEEDED: Final = ("id", "nominal", "deviation")
_WITH_COMMA: Final = re.compile("[+\N{MINUS SIGN}-]?[0-9]*,[0-9]+")


@typed
@refusing("csv")
def read_csv(data: bytes, *, unit: Unit = "mm") -> CertificateImport:
    """Read certified blocks from CSV.

    Args:
        data: the file.
        unit: unit of blocks whose ``unit`` column is empty or missing.
    """
    sheet = read_sheet(data, MOST_BLOCKS)
    _check_header(sheet)
    stated = _with_points(sheet, tuple(_stated(sheet)))
    unread = [
        (named, name)
        for named, name in zip(sheet.named, sheet.header, strict=True)
        if name not in COLUMNS
    ]
    ignored = few(unread, lambda each: unknown(f"column {each[0][:40]!r}", each[1]))
    return assemble("csv", stated, unit=unit, ignored=ignored)


def _check_header(sheet: CsvSheet) -> None:
    header = sheet.header
    repeated = [name for name in COLUMNS if header.count(name) > 1]
    if repeated:
        raise UnreadableError(f"names the column {repeated[0]} twice.", _FIRST_LINE)
    missing = [name for name in _NEEDED if name not in header]
    if missing:
        found = ", ".join(repr(name[:40]) for name in sheet.named[:40]) or "none"
        unread = [name for name in header if name not in COLUMNS]
        meant = "".join(or_nearest(name, unread) for name in missing)
        raise UnreadableError(
            f"has no column {', '.join(missing)}{meant.replace('known', 'found')}. "
            f"Found: {found}. Known: {', '.join(COLUMNS)}.",
            _FIRST_LINE,
        )


def _stated(sheet: CsvSheet) -> Iterator[Stated]:
    for number, fields in sheet.lines:
        if len(fields) != len(sheet.header):
            text = f"has {len(fields)} fields where line 1 has {len(sheet.header)}"
            # Decimal commas between commas look like more fields.
            more = sheet.separator == "," and len(fields) > len(sheet.header)
            advice = "; if decimals have a comma, part the fields by semicolons" if more else ""
            raise UnreadableError(f"{text}{advice}.", f"line {number}")
        # An empty field states nothing, which is not the same as an empty text.
        known = {n: f for n, f in zip(sheet.header, fields, strict=True) if n in COLUMNS and f}
        yield Stated(location=f"line {number}", **known)


def _with_points(sheet: CsvSheet, stated: tuple[Stated, ...]) -> tuple[Stated, ...]:
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
        raise UnreadableError(f"{text} ({point.location}, {other}).", f"{comma.location}, {name}")
    return tuple(_pointed(each) for each in stated)


def _pointed(stated: Stated) -> Stated:
    texts = {name: getattr(stated, name) for name in FIGURES}
    return replace(stated, **{n: text and text.replace(",", ".") for n, text in texts.items()})
