"""Risks over all parts of deciding by measured sizes (JCGM 106, from memory).

Lengths here are in any one unit, as floats. The true sizes of the parts are taken to be normal
about the middle of the limits, and the error of measuring normal and independent of them. That is
the joint normal integral which ANSI/NCSL Z540.3 limits to 2 % for false acceptance (from memory,
not checked against print). SciPy has such integrals, but takes some 140 MB, a quarter of what an
image may have; numpy, which is there, has the nodes, and the tests compare with SciPy.
"""

from collections.abc import Callable
from functools import lru_cache
from itertools import pairwise
from math import exp, log, pi, sqrt
from statistics import NormalDist
from typing import Final

from msgspec import Struct

from wrung.metrology.purpose import Band
from wrung.metrology.student import normal_above

_NODES: Final = 32
_FAR: Final = 9.0
"""Standard deviations beyond which a normal distribution has nothing left (1e-19)."""
_ALIKE: Final = 1e-9
"""Difference of two sides that shows in no answer."""
_GOLDEN: Final = (sqrt(5) - 1) / 2
_NARROWEST, _WIDEST = 0.2, 5.0
"""Spreads of parts, in half-widths or uncertainties, between which the worst one lies."""
_SPREADS: Final = 12
_HALVINGS: Final = 12
"""A guard band is found to 1/4096 of the half-width, rounded up."""


class OverallRisks(Struct, frozen=True, kw_only=True):
    """Shares of all parts that are decided wrongly.

    Attributes:
        false_accept: accepted although outside the limits.
        false_reject: not accepted although within them.
    """

    false_accept: float
    false_reject: float


def spread_of(half_width: float, in_tolerance: float) -> float:
    """Standard deviation of parts of which that share lies within ± the half-width."""
    return half_width / NormalDist().inv_cdf((1 + in_tolerance) / 2)


def overall_risks(half_width: float, accepted: Band, spread: float) -> OverallRisks:
    """What goes wrong over all parts; lengths in standard uncertainties from the middle.

    Args:
        half_width: of the limits, on either side of the middle.
        accepted: sizes that are accepted, as measured.
        spread: standard deviation of the true sizes.
    """
    mirrored = Band(lower=-accepted.upper, upper=-accepted.lower)
    above = _beyond(half_width, accepted, spread)
    # Mostly the stack is corrected, and both sides are alike.
    alike = abs(accepted.upper + accepted.lower) < _ALIKE
    false_accept = above + (above if alike else _beyond(half_width, mirrored, spread))
    all_accepted = max(0.0, _normal(accepted, sqrt(1 + spread * spread)))
    conforming = _normal(Band(lower=-half_width, upper=half_width), spread)
    # Conforming parts that are accepted are all accepted ones but the falsely accepted.
    return OverallRisks(
        false_accept=false_accept,
        false_reject=max(0.0, conforming - (all_accepted - false_accept)),
    )


def worst_false_accept(half_width: float, accepted: Band) -> float:
    """The largest share of false acceptance that any spread of the parts gives."""
    # Neither parts that are all good nor parts far outside are accepted wrongly: one peak between.
    low, high = log(_NARROWEST * half_width), log(_WIDEST * max(half_width, 1.0))

    def risk(at: float) -> float:
        return overall_risks(half_width, accepted, exp(at)).false_accept

    left, right = high - _GOLDEN * (high - low), low + _GOLDEN * (high - low)
    at_left, at_right = risk(left), risk(right)
    for _ in range(_SPREADS):
        if at_left > at_right:
            high, right, at_right = right, left, at_left
            left = high - _GOLDEN * (high - low)
            at_left = risk(left)
        else:
            low, left, at_left = left, right, at_right
            right = low + _GOLDEN * (high - low)
            at_right = risk(right)
    return max(at_left, at_right)


@lru_cache(maxsize=256)
def band_for(most: float, half_width: float, in_tolerance: float | None) -> float:
    """Smallest guard band that keeps false acceptance to ``most``; in standard uncertainties.

    Args:
        most: largest share of false acceptance.
        half_width: of the limits, in standard uncertainties.
        in_tolerance: share of the parts within the limits; None for whatever is worst.
    """

    def risk(band: float) -> float:
        accepted = Band(lower=band - half_width, upper=half_width - band)
        if in_tolerance is None:
            return worst_false_accept(half_width, accepted)
        spread = spread_of(half_width, in_tolerance)
        return overall_risks(half_width, accepted, spread).false_accept

    if risk(0.0) <= most:
        return 0.0
    low, high = 0.0, half_width
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        low, high = (middle, high) if risk(middle) > most else (low, middle)
    return high


def _beyond(limit: float, accepted: Band, spread: float) -> float:
    """Share of parts that lie above a limit and are accepted."""
    end = min(_FAR * spread, max(limit, accepted.upper) + _FAR)
    # The integrand falls off at the end of the accepted sizes, so that a panel ends there.
    edges = sorted({limit, min(max(limit, accepted.upper), end), end})
    if end <= limit or accepted.upper <= accepted.lower:
        return 0.0
    scale = spread * sqrt(2 * pi)

    def density(size: float) -> float:
        taken = normal_above(size - accepted.upper) - normal_above(size - accepted.lower)
        return exp(-((size / spread) ** 2) / 2) / scale * taken

    return sum(_integral(density, *panel) for panel in pairwise(edges))


def _integral(function: Callable[[float], float], low: float, high: float) -> float:
    middle, half = (low + high) / 2, (high - low) / 2
    return half * sum(weight * function(middle + half * node) for node, weight in _rule())


@lru_cache(maxsize=1)
def _rule() -> tuple[tuple[float, float], ...]:
    """Nodes and weights of Gauss and Legendre."""
    # Only when it is needed: the rest of the package does without numpy.
    from numpy.polynomial.legendre import leggauss  # noqa: PLC0415

    nodes, weights = leggauss(_NODES)
    return tuple(zip(nodes.tolist(), weights.tolist(), strict=True))


def _normal(band: Band, spread: float) -> float:
    return normal_above(band.lower / spread) - normal_above(band.upper / spread)
