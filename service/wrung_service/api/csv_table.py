"""Tables as CSV (RFC 4180) that a spreadsheet may open, and what it must not evaluate."""

import csv
import io
import re
from collections.abc import Iterable
from datetime import datetime
from typing import Final

_NUMBER: Final = re.compile(r"-?[0-9]+(\.[0-9]+)?")
# What spreadsheets take for the beginning of a formula or of a command.
_EVALUATED: Final = re.compile(r"'*[=+\-@\t\r\n|%]")


def write_table(head: Iterable[str], rows: Iterable[Iterable[object]]) -> bytes:
    """A heading and rows as CSV, in UTF-8."""
    text = io.StringIO()
    writer = csv.writer(text)
    writer.writerow(head)
    writer.writerows(map(_cell, row) for row in rows)
    return text.getvalue().encode()


def as_meant(cell: str) -> str:
    """The text of a cell without the apostrophe that `write_table` put before it."""
    return cell[1:] if cell.startswith("'") and _EVALUATED.match(cell) else cell


def _cell(value: object) -> str:
    """The text of a cell; what a spreadsheet would evaluate gets an apostrophe before it."""
    text = "" if value is None else str(value)
    if isinstance(value, datetime):
        text = value.isoformat()
    return f"'{text}" if _EVALUATED.match(text) and not _NUMBER.fullmatch(text) else text
