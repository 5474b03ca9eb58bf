"""Pasted lists: lengths of blocks, and targets a line each."""

import re
from collections.abc import Iterator, Sequence
from typing import Final

from wrung.lengths import Unit, parse, to_text
from wrung_service.api.bench.entry import entered

_COLUMNS: Final = re.compile(r"\s*[\t;]\s*")
_MOST_PARTS: Final = 16
_GAPS: Final = re.compile(r"[\s;]+|,(?=\s)")
_BEFORE_UNIT: Final = re.compile(r"(?<=\d)[ \t]+(?=(?:mm|inch|in|zoll)\b)", re.IGNORECASE)
MOST_BLOCKS: Final = 200


def read_lengths(text: str, unit: Unit) -> tuple[str, ...]:
    """The lengths in a list or a table, as decimals in the unit; what is no length is left out.

    Between them stand gaps, semicolons or ends of lines; commas where the figures have points.
    """
    if "." in text and "," in text:
        text = text.replace(",", " ")
    text = _BEFORE_UNIT.sub("", text)
    found = (read_length(each, unit) for each in _GAPS.split(text) if each)
    return tuple(each for each in found if each)[:MOST_BLOCKS]


def read_lines(text: str, unit: Unit) -> Iterator[tuple[str, str]]:
    """Of each line the text of its length, and the name beside it or nothing."""
    for line in filter(None, (each.strip() for each in text.splitlines())):
        length, name = _with_name(line, unit)
        yield length, name.strip(" :,")[:64].replace("~", "-")


def _with_name(line: str, unit: Unit) -> tuple[str, str]:
    """The length and its name, as columns of a table in either order, or with a gap between."""
    parts = _COLUMNS.split(line) if _COLUMNS.search(line) else line.split()
    if len(parts) > _MOST_PARTS:
        return line, ""

    def is_length(some: Sequence[str]) -> bool:
        return entered(" ".join(some), unit).state == "length"

    for cut in range(len(parts), 0, -1):
        length, name = parts[:cut], parts[cut:]
        # A row of lengths is no length with a name.
        if is_length(length) and not (name[1:] and is_length(name[:1])):
            return " ".join(length), " ".join(name)
    for cut in range(1, 1 if is_length(parts[:1]) else len(parts)):
        if is_length(parts[cut:]):
            return " ".join(parts[cut:]), " ".join(parts[:cut])
    return line, ""


def read_length(text: str, unit: Unit) -> str:
    """A length as a decimal in the unit; empty if it is none."""
    entry = entered(text, unit)
    plain = entry.state == "length" and not entry.allowed
    return to_text(parse(entry.text, entry.unit), unit) if plain else ""
