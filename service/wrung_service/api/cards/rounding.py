"""Figures as they stand on a card: two of them, and never too small."""

from decimal import ROUND_CEILING, ROUND_HALF_EVEN, Decimal
from typing import Final

_FIGURES: Final = 2
_MOST_LESS: Final = Decimal("0.05")
"""An uncertainty may lose 5 % by rounding, no more (EA-4/02 M:2022, 6.3, from memory)."""


def at_most(text: str) -> str:
    """A bound with two figures, rounded up."""
    value = Decimal(text)
    return _plain(value.quantize(_place(value), ROUND_CEILING))


def uncertainty(text: str) -> str:
    """An expanded uncertainty with two figures; up where it would lose more than 5 %."""
    value = Decimal(text)
    nearest = value.quantize(_place(value), ROUND_HALF_EVEN)
    return _plain(nearest if nearest >= value * (1 - _MOST_LESS) else _up(value))


def _up(value: Decimal) -> Decimal:
    return value.quantize(_place(value), ROUND_CEILING)


def _place(value: Decimal) -> Decimal:
    return Decimal(1).scaleb(value.adjusted() - _FIGURES + 1) if value else Decimal(1)


def _plain(value: Decimal) -> str:
    return f"{value:f}"
