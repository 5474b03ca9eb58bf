"""Figures as people read them: no more of them than a shop can use, or than is known.

Only what is read is rounded. Whatever is decided, and every answer as data, has the exact figures.
"""

from decimal import ROUND_CEILING, ROUND_FLOOR, ROUND_HALF_EVEN, Decimal
from typing import Final, Literal, TypeAlias

from wrung.angles import SECOND, to_dms, to_seconds
from wrung.checked_types import typed
from wrung.lengths import QUANTA, AnyUnit, parse, to_text

Rounding: TypeAlias = Literal["result", "stated", "least", "most"]
"""A result goes to the nearest; what somebody stated stays whole unless no rule has such figures.

The least and the most that is allowed are rounded inward, so that nothing outside a limit is within
the figure that is read (ISO 80000-1:2009, B.3, from memory: limits are rounded in one direction).
"""

_PLACES: Final[dict[AnyUnit, int]] = {"mm": 5, "in": 6, "um": 2, "uin": 1}
"""Decimals of results: certificates state 0.01 µm and 0.1 µin (common practice, no source)."""
_STATED_PLACES: Final[dict[AnyUnit, int]] = {"mm": 6, "in": 7, "um": 4, "uin": 2}
"""Decimals of stated figures; nominal lengths need six in mm, such as 0.100025 in."""
_LEAST_FIGURES: Final = 2
_BOUND_FIGURES: Final = 3
"""One more than an uncertainty is usually stated with (GUM 7.2.6), as ratios are taken of it."""
_CARD_FIGURES: Final = 2
_MOST_LESS: Final = Decimal("0.05")
"""An uncertainty may lose 5 % by rounding, no more (EA-4/02 M:2022, 6.3, from memory)."""
_BEYOND_TWO_SIGMA: Final = Decimal("1.5e-6")
"""The factor of 95.45 % is 2.0000024: what a certificate gives with k = 2 grows by so much."""
_MODES: Final[dict[Rounding, str]] = {
    "result": ROUND_HALF_EVEN,
    "stated": ROUND_HALF_EVEN,
    "least": ROUND_CEILING,
    "most": ROUND_FLOOR,
}


@typed
def read_length(
    quanta: int, unit: AnyUnit, rounding: Rounding = "result", *, uncertainty: int | None = None
) -> str:
    """A length, a difference or a deviation, quanta of 0.01 nm, as decimal text.

    >>> read_length(2_499_959_801, "mm")
    '24.9996'

    Args:
        quanta: the length.
        unit: unit of the text.
        rounding: what sort of figure it is.
        uncertainty: expanded uncertainty of a result, quanta: its second figure is the last place.
    """
    if rounding == "stated" and _decimals(exact := to_text(quanta, unit)) <= _STATED_PLACES[unit]:
        return exact
    value = Decimal(quanta) / QUANTA[unit]
    place = Decimal(1).scaleb(-_PLACES[unit])
    if uncertainty:
        place = max(place, _place(Decimal(uncertainty) / QUANTA[unit], _LEAST_FIGURES))
    elif value and unit in ("um", "uin"):
        # What is small is not shown as nothing.
        place = min(place, _place(value, _LEAST_FIGURES))
    return _plain(value.quantize(place, _MODES[rounding]))


@typed
def read_text(text: str, unit: AnyUnit, rounding: Rounding = "stated") -> str:
    """The same of decimal text; what is short enough stays as it is, trailing zeros included."""
    if rounding == "stated" and _decimals(text) <= _STATED_PLACES[unit]:
        return text
    return read_length(parse(text, unit, signed=True), unit, rounding)


@typed
def read_bound(quanta: int, unit: AnyUnit) -> str:
    """An uncertainty or the limit of an error, quanta, as text of three figures; never less.

    Whole units stay, even where that are more figures. What rounding up in whole quanta and the
    factor of 95.45 % added does not count: a block certified to 0.05 µm is not read as 0.0501 µm.
    """
    value = Decimal(quanta) / QUANTA[unit]
    place = min(Decimal(1), _place(value, _BOUND_FIGURES))
    added = Decimal(1) / QUANTA[unit] + value * _BEYOND_TWO_SIGMA
    below = value.quantize(place, ROUND_FLOOR)
    return _plain(below if value - below <= added else value.quantize(place, ROUND_CEILING))


@typed
def read_seconds(quanta: int, rounding: Rounding = "result") -> str:
    """A small angle, quanta of 1e-9 seconds of arc, in seconds: a bound, if it is a result."""
    value = Decimal(quanta) / SECOND
    if rounding == "stated" or not value:
        return to_seconds(quanta)
    return _plain(value.quantize(min(Decimal(1), _place(value, _BOUND_FIGURES)), ROUND_CEILING))


@typed
def read_angle(quanta: int, *, uncertainty: int | None = None) -> str:
    """An angle to a tenth of a second, or to a whole one if it is uncertain by ten or more."""
    return to_dms(quanta, tenths=uncertainty is None or uncertainty < 10 * SECOND)


@typed
def at_most(text: str) -> str:
    """A bound as it stands on a card: with two figures, rounded up."""
    value = Decimal(text)
    return f"{value.quantize(_place(value, _CARD_FIGURES), ROUND_CEILING):f}"


@typed
def uncertainty(text: str) -> str:
    """An expanded uncertainty with two figures, likewise; up where it would lose more than 5 %."""
    value = Decimal(text)
    nearest = value.quantize(_place(value, _CARD_FIGURES), ROUND_HALF_EVEN)
    return f"{nearest:f}" if nearest >= value * (1 - _MOST_LESS) else at_most(text)


def _place(value: Decimal, figures: int) -> Decimal:
    """The last of so many figures of a value."""
    return Decimal(1).scaleb(value.adjusted() - figures + 1) if value else Decimal(1)


def _decimals(text: str) -> int:
    return len(text.partition(".")[2])


def _plain(value: Decimal) -> str:
    # Without trailing zeros, and without the sign of a zero.
    return f"{value.normalize() + 0:f}"
