"""Standard uncertainties as expanded ones, which is what blocks hold."""

from math import ceil, inf

from wrung.checked_types import typed
from wrung.metrology.conditions import TWO_SIGMA
from wrung.metrology.student import coverage_factor


@typed
def expand(standard: int, degrees_of_freedom: float | None) -> tuple[int, float]:
    """The expanded uncertainty for 95.45 %, quanta, and its coverage factor.

    It is rounded up to a quantum; the factor is then adapted, so that dividing gives the standard
    uncertainty, quanta, back. Without degrees of freedom these are very many.
    """
    factor = coverage_factor(TWO_SIGMA, degrees_of_freedom or inf)
    expanded = ceil(standard * factor)
    return expanded, expanded / standard if standard else factor
