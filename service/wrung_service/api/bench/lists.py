"""Pasted lists: lengths of blocks, and targets a line each."""

import re
from collections.abc import Iterator
from typing import Final

from wrung.lengths import Unit, parse, to_text
from wrung_service.api.bench.entry import entered

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
    """Of each line the text of its length, and its further word or nothing."""
    for line in filter(None, (each.strip() for each in text.splitlines())):
        length, _, word = line.rpartition(" ")
        whole = entered(line, unit).state == "length"
        if whole or entered(length.strip(), unit).state != "length":
            yield line, ""
        else:
            yield length.strip(), word[:64].replace("~", "-")


def read_length(text: str, unit: Unit) -> str:
    """A length as a decimal in the unit; empty if it is none."""
    entry = entered(text, unit)
    plain = entry.state == "length" and not entry.allowed
    return to_text(parse(entry.text, entry.unit), unit) if plain else ""
