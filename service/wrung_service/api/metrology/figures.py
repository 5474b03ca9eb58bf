"""Numbers in answers that do not pretend to more digits than anybody knows."""

from math import isinf
from typing import Final

_DIGITS: Final = 6


def rounded(figure: float) -> float:
    """The figure with six digits, far more than any uncertainty is known to."""
    return float(f"{figure:.{_DIGITS}g}") + 0.0  # no -0.0


def finite(figure: float) -> float | None:
    """The figure, or None where it has no end: degrees of freedom may."""
    return None if isinf(figure) else rounded(figure)
