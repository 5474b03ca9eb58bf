"""Quantiles of Student's t distribution: the coverage factors of the GUM, annex G."""

from functools import lru_cache
from math import ceil, erfc, exp, floor, inf, isinf, lgamma, log, log1p, pi, sqrt
from statistics import NormalDist
from typing import Final

from wrung.checked_types import typed

TWO_SIGMA: Final = 0.9545
"""The coverage probability at which a normal distribution has the coverage factor 2 (EA-4/02)."""

_MANY: Final = 10_000.0
"""From here on a series in 1/(degrees of freedom) is right to 12 digits, and a share to 4."""
_PRECISION: Final = 1e-15
_MOST_STEPS: Final = 500
_TINY: Final = 1e-300


def coverage_factor(probability: float, degrees_of_freedom: float) -> float:
    """Factor k for which ``-k..k`` holds the share ``probability`` of Student's t.

    As GUM G.4.1 advises, degrees of freedom are cut to the next lower whole number, at least 1.
    """
    whole = degrees_of_freedom if isinf(degrees_of_freedom) else floor(degrees_of_freedom)
    return quantile(probability, max(float(whole), 1.0))


@typed
def expand(standard: int, degrees_of_freedom: float | None) -> tuple[int, float]:
    """The expanded uncertainty for 95.45 %, quanta, and its coverage factor.

    It is rounded up to a quantum; the factor is then adapted, so that dividing gives the standard
    uncertainty, quanta, back. Without degrees of freedom these are very many.
    """
    factor = coverage_factor(TWO_SIGMA, degrees_of_freedom or inf)
    expanded = ceil(standard * factor)
    return expanded, expanded / standard if standard else factor


def share_above(t: float, degrees_of_freedom: float) -> float:
    """Share of Student's t above a value; degrees of freedom are cut as in `coverage_factor`."""
    if degrees_of_freedom >= _MANY:
        return normal_above(t)
    above = _tail(abs(t), max(float(floor(degrees_of_freedom)), 1.0))
    return above if t >= 0 else 1 - above


def normal_above(deviation: float) -> float:
    """Share of the standard normal distribution above a value."""
    return erfc(deviation / sqrt(2)) / 2


@lru_cache(maxsize=1024)
def quantile(probability: float, degrees_of_freedom: float) -> float:
    """Two-sided quantile of Student's t for any real number of degrees of freedom from 1 up.

    Args:
        probability: share of the distribution between both quantiles, 0 to 1, ends not included.
        degrees_of_freedom: at least 1; infinite for the normal distribution.

    Raises:
        ValueError: an argument is out of range.
    """
    # Written so that nan, which compares false with everything, is refused as well.
    if not 0 < probability < 1 or not degrees_of_freedom >= 1:
        raise ValueError("a probability lies between 0 and 1, degrees of freedom are at least 1")
    normal = NormalDist().inv_cdf((1 + probability) / 2)
    if degrees_of_freedom >= _MANY:
        return _of_many(normal, degrees_of_freedom)
    return _by_newton(normal, (1 - probability) / 2, degrees_of_freedom)


def _of_many(z: float, freedom: float) -> float:
    """Abramowitz & Stegun 26.7.5, first terms."""
    if isinf(freedom):
        return z
    first = (z**3 + z) / 4
    second = (5 * z**5 + 16 * z**3 + 3 * z) / 96
    return z + first / freedom + second / freedom**2


def _by_newton(start: float, tail: float, freedom: float) -> float:
    # The tail is a convex, falling function of t, and the normal quantile lies left of the root, so
    # that Newton's steps only ever go right and cannot overshoot.
    t = start
    for _ in range(_MOST_STEPS):
        step = (_tail(t, freedom) - tail) / _density(t, freedom)
        t += step
        if step <= _PRECISION * t:
            break
    return t


def _density(t: float, freedom: float) -> float:
    # By logarithms, as the gamma function itself overflows beyond 171.
    log_scale = lgamma((freedom + 1) / 2) - lgamma(freedom / 2)
    shape = -(freedom + 1) / 2 * log1p(t * t / freedom)
    return exp(log_scale + shape) / sqrt(freedom * pi)


def _tail(t: float, freedom: float) -> float:
    """Probability of a value above t (DLMF 8.17.1 with 26.7.1 of Abramowitz & Stegun)."""
    square = t * t
    # Of two equal forms the one whose argument is at most a half.
    if square < freedom:
        return (1 - _beta(square / (freedom + square), 0.5, freedom / 2)) / 2
    return _beta(freedom / (freedom + square), freedom / 2, 0.5) / 2


def _beta(x: float, a: float, b: float) -> float:
    """Regularised incomplete beta function, by the side on which the fraction converges fast."""
    if x <= 0:
        return 0.0
    if x > (a + 1) / (a + b + 2):
        return 1 - _beta(1 - x, b, a)
    scale = lgamma(a + b) - lgamma(a) - lgamma(b) + a * log(x) + b * log1p(-x)
    return exp(scale) / a / _fraction(x, a, b)


def _fraction(x: float, a: float, b: float) -> float:
    """Continued fraction DLMF 8.17.22, by the method of Lentz."""
    value, ratio, inverse = 1.0, 1.0, 0.0
    for step in range(1, _MOST_STEPS):
        half = step // 2
        if step % 2:
            term = -(a + half) * (a + b + half) * x / ((a + 2 * half) * (a + 2 * half + 1))
        else:
            term = half * (b - half) * x / ((a + 2 * half - 1) * (a + 2 * half))
        # Lentz puts something tiny for a zero, so that no step divides by it.
        inverse = 1 / ((1 + term * inverse) or _TINY)
        ratio = (1 + term / ratio) or _TINY
        value *= ratio * inverse
        if abs(ratio * inverse - 1) < _PRECISION:
            break
    return value
