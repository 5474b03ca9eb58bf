"""Readings of an instrument at its check points, judged: error, its uncertainty, what is said."""

from collections.abc import Iterator
from decimal import Decimal
from math import ceil, sqrt
from typing import Final

from msgspec.structs import replace

from wrung.metrology.budget.rows import NM
from wrung.metrology.purpose import Band, Zone, share_of, statement_of
from wrung.metrology.quantities import COVERAGE_FACTOR
from wrung.targets.built import BudgetedStack
from wrung.targets.check_points_result import CheckPoint

_PLACES: Final = Decimal("0.0001")


def with_error(
    row: CheckPoint,
    stacks: tuple[BudgetedStack, ...],
    *,
    variance: float,
    guard_multiple: Decimal,
) -> CheckPoint:
    """A row with what its reading comes to.

    Args:
        row: as it is filled in, with its reading.
        stacks: what was measured, then what is to be taken off it: where an indicator was zeroed;
            none where the instrument was closed.
        variance: of a reading, by the instrument itself.
        guard_multiple: guard band over the expanded uncertainty.
    """
    error, limit = (row.reading or 0) - sum(_true_lengths(stacks)), row.permissible_error
    shares = ((each.budget.combined.standard_uncertainty_nm * NM) ** 2 for each in stacks)
    standard = sqrt(variance + sum(shares))
    expanded = ceil(COVERAGE_FACTOR * standard)
    found = replace(row, error=error, expanded_uncertainty=expanded)
    if limit is None:
        return found
    band = ceil(guard_multiple * expanded)
    within = Band(lower=-float(limit), upper=float(limit))
    probability = share_of(within, size=float(error), uncertainty=standard)
    return replace(
        found,
        # Down, so that what is not sure is never shown as sure.
        conformity_probability=Decimal(int(probability / float(_PLACES))) * _PLACES,
        statement=statement_of(
            error,
            limits=Zone(lower=-limit, upper=limit),
            accepted=Zone(lower=band - limit, upper=limit - band),
            rejected=Zone(lower=-limit - abs(band), upper=limit + abs(band)),
        ),
    )


def _true_lengths(stacks: tuple[BudgetedStack, ...]) -> Iterator[int]:
    for place, each in enumerate(stacks):
        length = each.length + each.budget.offset
        yield -length if place else length
