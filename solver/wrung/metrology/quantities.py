"""Input quantities of an uncertainty budget: an estimate and its spread (GUM 4.2 and 4.3)."""

from math import inf, sqrt
from typing import Final, Literal, TypeAlias

from wrung.checked_types import CheckedStruct, typed

Distribution: TypeAlias = Literal[
    "exact", "normal", "rectangular", "triangular", "arcsine", "product"
]

COVERAGE_FACTOR: Final = 2
"""What an expanded uncertainty is over the standard one, where nothing else is said (k = 2)."""


class Quantity(CheckedStruct, frozen=True, kw_only=True):
    """An input quantity, all in the unit that its use names.

    Attributes:
        estimate: best estimate.
        uncertainty: standard uncertainty, not negative.
        limit: half-width that holds the value in the worst case: of the interval for bounded
            distributions, the expanded uncertainty for a normal one.
        distribution: how the value is spread about the estimate.
        degrees_of_freedom: how well the uncertainty itself is known; infinite if exactly.
    """

    estimate: float
    uncertainty: float = 0.0
    limit: float = 0.0
    distribution: Distribution = "exact"
    degrees_of_freedom: float = inf


@typed
def exactly(estimate: float) -> Quantity:
    """A quantity without uncertainty."""
    return Quantity(estimate=estimate)


@typed
def normal(estimate: float, uncertainty: float, *, freedom: float = inf) -> Quantity:
    """Normal, by its standard uncertainty; twice that counts as its limit."""
    return expanded(estimate, COVERAGE_FACTOR * uncertainty, freedom=freedom)


@typed
def expanded(
    estimate: float, uncertainty: float, *, factor: float = COVERAGE_FACTOR, freedom: float = inf
) -> Quantity:
    """Normal, by its expanded uncertainty, which is its limit, and the coverage factor."""
    return _within(estimate, uncertainty, "normal", factor, freedom)


@typed
def rectangular(estimate: float, limit: float, *, freedom: float = inf) -> Quantity:
    """Anywhere within ``estimate`` ± ``limit``, equally likely (GUM 4.3.7)."""
    return _within(estimate, limit, "rectangular", sqrt(3), freedom)


@typed
def triangular(estimate: float, limit: float, *, freedom: float = inf) -> Quantity:
    """Within ``estimate`` ± ``limit``, more likely near the middle (GUM 4.3.9)."""
    return _within(estimate, limit, "triangular", sqrt(6), freedom)


@typed
def arcsine(estimate: float, limit: float, *, freedom: float = inf) -> Quantity:
    """Swinging within ``estimate`` ± ``limit``, as a controlled room does (GUM H.1.3.4)."""
    return _within(estimate, limit, "arcsine", sqrt(2), freedom)


@typed
def between(lower: float, upper: float) -> Quantity:
    """Anywhere between two limits, equally likely; the middle is the best estimate (GUM 4.3.8)."""
    return rectangular((lower + upper) / 2, (upper - lower) / 2)


@typed
def freedom_of(relative_uncertainty: float) -> float:
    """Degrees of freedom of an uncertainty that is itself uncertain by that share (GUM G.4.2)."""
    return inf if relative_uncertainty == 0 else 1 / (2 * relative_uncertainty**2)


def _within(
    estimate: float, limit: float, distribution: Distribution, divisor: float, freedom: float
) -> Quantity:
    return Quantity(
        estimate=estimate,
        uncertainty=limit / divisor,
        limit=limit,
        distribution=distribution,
        degrees_of_freedom=freedom,
    )
