"""Readings of an instrument at its check points, judged: error, its uncertainty, what is said."""

from collections.abc import Iterator
from decimal import Decimal
from math import ceil, sqrt
from typing import Final

from msgspec import Struct

from wrung.metrology.budget.rows import NM
from wrung.metrology.conformity import Band, Statement, share_of, statement_of
from wrung.metrology.purpose import Zone
from wrung.metrology.quantities import COVERAGE_FACTOR
from wrung.targets.built import BudgetedStack

_PLACES: Final = Decimal("0.0001")


class PointError(Struct, frozen=True, kw_only=True):
    """The error of indication at a point, and what is to be said of it; lengths in quanta.

    Attributes:
        error: reading less the true length.
        expanded_uncertainty: of the error, k = 2.
        probability: that the true error is within its limits; None without limits.
        statement: by the decision rule; None likewise.
    """

    error: int
    expanded_uncertainty: int
    probability: Decimal | None
    statement: Statement | None


def point_error(
    reading: int,
    stacks: tuple[BudgetedStack, ...],
    *,
    variance: float,
    permissible: int | None,
    guard_multiple: Decimal,
) -> PointError:
    """What a reading comes to.

    Args:
        reading: the reading.
        stacks: what was measured, then what is to be taken off it: where an indicator was zeroed;
            none where the instrument was closed.
        variance: of a reading, by the instrument itself.
        permissible: limit of the error, plus and minus; None if there is none.
        guard_multiple: guard band over the expanded uncertainty.
    """
    error = reading - sum(_true_lengths(stacks))
    shares = ((each.budget.combined.standard_uncertainty_nm * NM) ** 2 for each in stacks)
    standard = sqrt(variance + sum(shares))
    expanded = ceil(COVERAGE_FACTOR * standard)
    if permissible is None:
        return PointError(
            error=error, expanded_uncertainty=expanded, probability=None, statement=None
        )
    band = ceil(guard_multiple * expanded)
    within = Band(lower=-float(permissible), upper=float(permissible))
    probability = share_of(within, size=float(error), uncertainty=standard)
    return PointError(
        error=error,
        expanded_uncertainty=expanded,
        # Down, so that what is not sure is never shown as sure.
        probability=(Decimal(int(probability / float(_PLACES))) * _PLACES),
        statement=statement_of(
            error,
            limits=Zone(lower=-permissible, upper=permissible),
            accepted=Zone(lower=band - permissible, upper=permissible - band),
            rejected=Zone(lower=-permissible - abs(band), upper=permissible + abs(band)),
        ),
    )


def _true_lengths(stacks: tuple[BudgetedStack, ...]) -> Iterator[int]:
    for place, each in enumerate(stacks):
        length = each.length + each.budget.offset
        yield -length if place else length
