"""Whether what was worked out with a block is still true of it after it changed."""

from datetime import date
from math import sqrt
from typing import Final

from wrung.blocks import Block, margin
from wrung.calibrations import Calibration
from wrung.metrology.budget.block import drift_row, length_row, variation_row
from wrung.metrology.student import TWO_SIGMA, coverage_factor

_SAME: Final = ("nominal", "unit", "role", "grade", "material", "body")
_NOTHING: Final = Calibration()
_ROUNDING: Final = 1 + 1e-12


def still_true(then: Block, now: Block, day: date) -> bool:
    """Whether every figure that rests on the block as it was holds for it as it is on that day.

    It does where the length that it may have now is one that it could have then, known at least as
    well. Its serial number, set and certificate change no figure.
    """
    return (
        all(getattr(then, name) == getattr(now, name) for name in _SAME)
        and _within(then, now)
        and _expands_alike(then, now)
        and (_as_well_known(then, now) if then.certified else _within_limits(then, now, day))
    )


def _within(then: Block, now: Block) -> bool:
    shift = abs((now.deviation or 0) - (then.deviation or 0))
    return shift + margin(now) <= margin(then)


def _expands_alike(then: Block, now: Block) -> bool:
    old, new = then.calibration or _NOTHING, now.calibration or _NOTHING
    return (new.expansion, new.expansion_uncertainty) == (old.expansion, old.expansion_uncertainty)


def _within_limits(then: Block, now: Block, day: date) -> bool:
    """Whether all that counts of its first certificate is no more than its limits were."""
    return _expanded(now, day) <= _expanded(then, day) * _ROUNDING


def _expanded(block: Block, day: date) -> float:
    """In nm; of a certified block with its drift up to that day, touched at the edge."""
    length = length_row(block)
    rows = (length, drift_row(block, day), variation_row(block, 1.0))
    total = sqrt(sum(row.standard_uncertainty**2 for row in rows if row is not None))
    return total * coverage_factor(TWO_SIGMA, length.degrees_of_freedom)


def _as_well_known(then: Block, now: Block) -> bool:
    """What uncertainty budgets take from a certificate beside deviation and uncertainty."""
    old, new = then.calibration or _NOTHING, now.calibration or _NOTHING
    return (
        _standard_uncertainty(now) <= _standard_uncertainty(then) * _ROUNDING
        and new.freedom >= old.freedom
        and _not_above(new.variation, old.variation)
        and _not_before(new.calibrated_on, old.calibrated_on)
    )


def _standard_uncertainty(block: Block) -> float:
    """In quanta; of limits as of a rectangular distribution (JCGM 100:2008, 4.3.7)."""
    if block.expanded_uncertainty is None:
        return margin(block) / sqrt(3)
    return block.expanded_uncertainty / (block.calibration or _NOTHING).coverage_factor


def _not_above(new: int | None, old: int | None) -> bool:
    # Where it is not known, that of the grade stands in its place.
    return new == old or (new is not None and old is not None and new < old)


def _not_before(new: date | None, old: date | None) -> bool:
    # Drift counts from that day on. Where it was not known, none counted, and the budget says so.
    return old is None or (new is not None and new >= old)
