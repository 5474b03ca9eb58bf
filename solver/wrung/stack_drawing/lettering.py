"""The figures of a drawing as text, and how wide they are."""

from typing import Final

from wrung.lengths import Unit
from wrung.rounding import read_length

FONT: Final = "B612, 'DejaVu Sans', Verdana, sans-serif"
WORD_FONT: Final = "'Routed Gothic', B612, 'DejaVu Sans', Verdana, sans-serif"
"""Never for figures: its 1 is a bare stroke."""
_DIGIT: Final = 0.65
_SIGN: Final = 0.3
"""Widths over the size, of B612; measured, from the font's own table."""


def width(text: str, size: float) -> float:
    """How wide figures are."""
    return sum(_DIGIT if letter.isdigit() else _SIGN for letter in text) * size


def decimals(lengths: list[int], unit: Unit) -> int:
    """How many decimals the finest of the lengths has."""
    return max(len(read_length(length, unit, "stated").partition(".")[2]) for length in lengths)


def written(length: int, unit: Unit, places: int, decimal_mark: str) -> str:
    """A length with so many decimals."""
    whole, _, rest = read_length(length, unit, "stated").partition(".")
    mark = "." if unit == "in" else decimal_mark
    return f"{whole}{mark}{rest.ljust(places, '0')}" if places else whole
