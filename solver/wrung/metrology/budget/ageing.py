"""Rows of the drift since calibration."""

from datetime import date

from wrung.blocks import Block
from wrung.calibrations import DAYS_A_YEAR
from wrung.metrology.budget.rows import NM, Row, row
from wrung.metrology.quantities import rectangular
from wrung.metrology.stability import stability_of


def years_since_calibration(block: Block, on: date | None) -> float | None:
    """Years from the block's calibration to that day, at least 0; None if a date is missing."""
    since = block.known_calibration.calibrated_on
    if on is None or since is None:
        return None
    # Used before its calibration, a block has had no time to drift from it.
    return max((on - since).days, 0) / DAYS_A_YEAR


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
