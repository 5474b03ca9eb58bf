"""The test uncertainty ratio (TUR): a tolerance's width over twice the uncertainty.

As ANSI/NCSL Z540.3 defines it (from memory, not checked against print): upper less lower limit over
twice the expanded uncertainty. Every ten-to-one and four-to-one rule of this library is about this
ratio; that a gauge should meet ten, and at least four, is common practice, no source. Where a stack
is judged by its worst-case error, that stands in place of the expanded uncertainty.

All lengths are quanta of 0.01 nm.
"""

from decimal import ROUND_FLOOR, Context, Decimal
from fractions import Fraction
from typing import Final

from wrung.measures import Measure
from wrung.texts import Figure, figure

TEN: Final = Fraction(10)
FOUR: Final = Fraction(4)

_FIGURES: Final = 3
_EXACT: Final = Context(prec=60, rounding=ROUND_FLOOR)


def uncertainty_ratio(width: int, uncertainty: int) -> Fraction | None:
    """The ratio of a tolerance ``width`` wide; None if there is no uncertainty at all."""
    # A fraction, so that just ten to one is not missed by a last bit.
    return Fraction(width, 2 * uncertainty) if uncertainty else None


def largest_uncertainty(width: int, ratio: Fraction) -> Fraction:
    """The most that the uncertainty may be for a tolerance to keep that ratio."""
    return width / (2 * ratio)


def meets(ratio: Fraction | None, least: Fraction) -> bool:
    """Whether a ratio is at least that large; None, no uncertainty, is larger than any."""
    return ratio is None or ratio >= least


def shown(ratio: Fraction) -> Decimal:
    """A ratio as answers show it: three figures, rounded down."""
    # Down, so that a ratio just short of ten is never shown as ten.
    exact = _EXACT.divide(Decimal(ratio.numerator), Decimal(ratio.denominator))
    rounded = Context(prec=_FIGURES, rounding=ROUND_FLOOR).plus(exact)
    # Without trailing zeros, and without the exponent that `normalize` gives round numbers.
    return Decimal(f"{rounded.normalize():f}")


def ratio_figures(ratio: Fraction, width: int) -> tuple[Figure, Figure]:
    """A ratio, and the width of its tolerance, as figures of a phrase."""
    return (
        figure("ratio", str(shown(ratio)), Measure.RATIO),
        figure("tolerance", width, Measure.MARGIN, "stated"),
    )
