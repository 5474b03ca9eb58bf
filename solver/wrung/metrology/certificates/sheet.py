"""A CSV in fields: what separates them, its header, and its numbered lines.

Fields are separated by commas, or by semicolons or tabs if the first line is. UTF-8, with or
without a byte order mark; a line ``sep=;`` before the header, as spreadsheets write it, is skipped.
"""

import csv
import re
from collections.abc import Iterator
from io import StringIO
from typing import Final

from msgspec import Struct

from wrung.metrology.certificates.limits import MOST_BYTES, MOST_COLUMNS
from wrung.metrology.certificates.report import UnreadableError

_SEPARATORS: Final = (";", "\t")
# Spreadsheets write it to one another, before the header.
_SEPARATOR_LINE: Final = re.compile(r"sep=[;,\t]\r?\n", re.IGNORECASE)


class CsvSheet(Struct, frozen=True, kw_only=True):
    """A file in fields: its header in small letters, and the numbered lines that are not empty."""

    separator: str
    named: tuple[str, ...]
    lines: tuple[tuple[int, list[str]], ...]

    @property
    def header(self) -> tuple[str, ...]:
        """The names of the columns, as they are known."""
        return tuple(name.casefold().replace(" ", "_") for name in self.named)


def read_sheet(data: bytes, most: int) -> CsvSheet:
    """The sheet, of at most so many lines beside its header.

    Raises:
        UnreadableError: the lines cannot be split into fields.
    """
    if len(data) > MOST_BYTES:
        raise UnreadableError(f"is larger than {MOST_BYTES} bytes.")
    try:
        # Spreadsheets put a byte order mark before their first column's name.
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise UnreadableError("is not text in UTF-8: save it as CSV in UTF-8.") from None
    # Blank, not cut, so that lines keep their numbers.
    text = _SEPARATOR_LINE.sub("\n", text, count=1) if _SEPARATOR_LINE.match(text) else text
    first = text.lstrip("\r\n").partition("\n")[0]
    separator = next((each for each in _SEPARATORS if each in first), ",")
    lines = [line for line in _fields(text, separator, most) if any(line[1])]
    named = lines[0][1] if lines else []
    return CsvSheet(separator=separator, named=tuple(named), lines=tuple(lines[1:]))


def _fields(text: str, separator: str, most: int) -> Iterator[tuple[int, list[str]]]:
    reader = csv.reader(StringIO(text, newline=""), delimiter=separator, strict=True)
    try:
        # One more for the header; counted while reading, so that memory stays bounded.
        for count, fields in enumerate(reader):
            if count > most + 1:
                raise UnreadableError(f"has more than {most} blocks.")
            if len(fields) > MOST_COLUMNS:
                text = f"has more than {MOST_COLUMNS} fields."
                raise UnreadableError(text, f"line {reader.line_num}")
            yield reader.line_num, [field.strip() for field in fields]
    except csv.Error as error:
        raise UnreadableError(f"is not CSV: {error}.", f"line {reader.line_num}") from None
