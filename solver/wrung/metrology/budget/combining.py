"""From the rows to the standard uncertainty, its degrees of freedom, and the expanded one."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from math import hypot, inf, sqrt
from typing import TypeAlias

from msgspec import Struct

from wrung.metrology.budget.rows import Row
from wrung.metrology.student import coverage_factor

Component: TypeAlias = tuple[float, float]
"""An independent contribution, nm, and its degrees of freedom."""


class Combined(Struct, frozen=True, kw_only=True):
    """What the rows come to.

    Attributes:
        standard_uncertainty_nm: combined standard uncertainty, nm.
        degrees_of_freedom: effective ones, by Welch and Satterthwaite; infinite if all rows are.
        coverage_factor: of Student's t for those, cut to a whole number (GUM G.4.1).
        expanded_uncertainty_nm: standard uncertainty times coverage factor, nm.
    """

    standard_uncertainty_nm: float
    degrees_of_freedom: float
    coverage_factor: float
    expanded_uncertainty_nm: float


def combine(
    rows: Sequence[Row], *, coverage_probability: float, correlation: float = 1.0
) -> Combined:
    """Combine the rows (GUM 5.1.2, 5.2.2 and G.4.1).

    Args:
        rows: the table; rows of one certificate are correlated, all others independent.
        coverage_probability: of the expanded uncertainty.
        correlation: correlation coefficient between the rows of one certificate, 0 to 1.
    """
    components = tuple(_components(rows, correlation))
    uncertainty = hypot(*(size for size, _ in components)) if components else 0.0
    freedom = _welch_satterthwaite(uncertainty, components)
    factor = coverage_factor(coverage_probability, freedom)
    return Combined(
        standard_uncertainty_nm=uncertainty,
        degrees_of_freedom=freedom,
        coverage_factor=factor,
        expanded_uncertainty_nm=factor * uncertainty,
    )


def _components(rows: Iterable[Row], correlation: float) -> Iterator[Component]:
    """Independent contributions with the same variance as the rows have together.

    A row of a certificate is split into a part that all its rows share, whose sizes add, and a part
    of its own. With the shares √r and √(1-r) any two of them have the correlation r.
    """
    shared: defaultdict[str, list[Component]] = defaultdict(list)
    for row in rows:
        size, freedom = row.contribution_nm, row.degrees_of_freedom
        if row.certificate is None:
            yield size, freedom
        else:
            yield size * sqrt(1 - correlation), freedom
            shared[row.certificate].append((size * sqrt(correlation), freedom))
    for parts in shared.values():
        # One reference, one uncertainty: it has as many degrees of freedom as its least sure row.
        yield sum(size for size, _ in parts), min(freedom for _, freedom in parts)


def _welch_satterthwaite(uncertainty: float, components: Iterable[Component]) -> float:
    """Effective degrees of freedom (GUM G.2b)."""
    # Infinite degrees of freedom add nothing to the sum; if all parts have them, so has the whole.
    total = sum(size**4 / freedom for size, freedom in components)
    return uncertainty**4 / total if total else inf
