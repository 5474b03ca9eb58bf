"""Single blocks of a shelf: a list of lengths, or a table with the figures of a certificate.

The address has a block as its nominal length, then its figures: ``1.005;deviation=0.12``.
"""

import re
from collections.abc import Iterator, Mapping
from typing import Final

from wrung.errors import LengthError
from wrung.lengths import Unit, parse
from wrung.metrology.certificates.report import UnreadableError
from wrung.metrology.certificates.sheet import CsvSheet, read_sheet
from wrung_service.api.bench.lists import MOST_BLOCKS, read_length, read_lengths

_FIGURES: Final = ("deviation", "expanded_uncertainty", "standard_uncertainty", "limit_deviation")
"""In the small unit of the block, as the API takes them."""
_WORDS: Final = ("grade", "material", "serial", "role", "body")
_BETWEEN: Final = ";"
_FIGURE: Final = re.compile(r"[+-]?[0-9]{1,12}(\.[0-9]{1,12})?")
_WORD: Final = re.compile(r"[^;~=\x00-\x1f\x7f-\x9f\u2028\u2029]{1,64}")


def read_blocks(text: str, unit: Unit) -> tuple[str, ...]:
    """The blocks of that unit in a table with a heading, else the lengths of a list."""
    try:
        sheet = read_sheet(text.encode(), MOST_BLOCKS)
    except UnreadableError:
        return read_lengths(text, unit)
    if "nominal" not in sheet.header:
        return read_lengths(text, unit)
    return tuple(filter(None, (_block(row, unit) for row in _rows(sheet))))


def is_block(text: str, is_length: re.Pattern[str], unit: Unit) -> bool:
    """Whether the address may have it as a block marked in that unit."""
    nominal, *more = text.split(_BETWEEN)
    pairs = [each.partition("=") for each in more]
    known = all(_is_known(n, v) for n, _, v in pairs)
    return known and is_length.fullmatch(nominal) is not None and _is_short_enough(nominal, unit)


def _is_short_enough(nominal: str, unit: Unit) -> bool:
    try:
        parse(nominal, unit)
    except LengthError:
        return False
    return True


def nominal_of(text: str) -> str:
    """Its nominal length."""
    return text.partition(_BETWEEN)[0]


def figures_of(text: str) -> dict[str, str]:
    """Its other members, as the API takes them."""
    return {name: value for name, _, value in map(_pair, text.split(_BETWEEN)[1:])}


def _pair(text: str) -> tuple[str, str, str]:
    return text.partition("=")


def _rows(sheet: CsvSheet) -> Iterator[Mapping[str, str]]:
    for _, fields in sheet.lines:
        row = dict(zip(sheet.header, fields, strict=False))
        if sheet.separator != ",":
            # As spreadsheets write decimals in many countries; then a comma separates nothing else.
            row |= {name: row[name].replace(",", ".") for name in _FIGURES if name in row}
        yield row


def _block(row: Mapping[str, str], unit: Unit) -> str:
    """As the address has it; empty if it is none, or marked in another unit."""
    nominal = read_length(row["nominal"].strip(), unit)
    if not nominal or row.get("unit", unit).strip() not in ("", unit):
        return ""
    known = {name: row.get(name, "").strip() for name in (*_FIGURES, *_WORDS)}
    figures = (f"{name}={value}" for name, value in known.items() if _is_known(name, value))
    return _BETWEEN.join((nominal, *figures))


def _is_known(name: str, value: str) -> bool:
    pattern = _FIGURE if name in _FIGURES else _WORD
    return name in (*_FIGURES, *_WORDS) and pattern.fullmatch(value) is not None
