"""Rows of the drift since calibration."""

from datetime import date
from typing import Final

from wrung.blocks import Block
from wrung.metrology.budget.rows import NM, Row, row
from wrung.metrology.quantities import rectangular
from wrung.metrology.stability import stability_of

_DAYS_A_YEAR: Final = 365.25


def years_since_calibration(block: Block, on: date | None) -> float | None:
    """Years from the block's calibration to that day, at least 0; None if a date is missing."""
    if on is None or block.calibration is None or block.calibration.calibrated_on is None:
        return None
    # Used before its calibration, a block has had no time to drift from it.
    return max((on - block.calibration.calibrated_on).days, 0) / _DAYS_A_YEAR


def drift_row(block: Block, on: date | None) -> Row | None:
    """The row of a certified block's drift, within the standard's change a year times the years.

    None where a date is missing, and for a block without certificate: its limits hold as long as it
    is not overdue.
    """
    years = years_since_calibration(block, on)
    if years is None or not block.certified:
        return None
    change = stability_of(block).change_a_year(block.nominal) * years
    return row("drift", block.id, rectangular(0.0, change / NM))
