"""Rows of single blocks: length, drift since calibration, and variation in length over the face."""

from datetime import date
from functools import cache
from typing import Final

from msgspec import Struct

from wrung.blocks import Block, grade_row, limits_of, margin
from wrung.calibrations import DAYS_A_YEAR
from wrung.lengths import QUANTA, um
from wrung.metrology.budget.rows import NM, Row, row
from wrung.metrology.quantities import Quantity, between, expanded, rectangular
from wrung.tables import Sourced, load

UNNAMED: Final = ""
"""Stands for the certificate of blocks whose certificate is not named.

They are all taken to be of one, to be on the safe side: uncertainties of one reference add.
"""

STABILITY_SOURCE: Final = "ISO 3650:1998, 6.2.4"
"""Names the clause on dimensional stability (by the contents page of BS EN ISO 3650:1999)."""


def length_row(block: Block) -> Row:
    """The row of a block's deviation: the certificate's uncertainty, or the limits of the grade.

    Raises:
        InputError: the block has no usable statement of its error; pointers are relative to it.
    """
    if block.deviation is None:
        return row("length_within_limits", block.id, deviation_within_limits(block))
    calibration = block.known_calibration
    value = expanded(
        block.deviation / NM,
        margin(block) / NM,
        factor=calibration.coverage_factor,
        freedom=calibration.freedom,
    )
    return row("certified_length", block.id, value, certificate=certificate_of(block))


def certificate_of(block: Block) -> str:
    """The certificate of a certified block, or `UNNAMED`."""
    return block.known_calibration.certificate or UNNAMED


def deviation_within_limits(block: Block) -> Quantity:
    """Deviation, nm, of a block that is only known to keep limits.

    Limits that are not the same on both sides have their middle as the best estimate.

    Raises:
        InputError: the block has neither limits nor a grade that covers it.
    """
    allowed = limits_of(block)
    return between(allowed.lower / NM, allowed.upper / NM)


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
    return row("drift", block.id, rectangular(0.0, change_a_year(block) * years / NM))


def change_a_year(block: Block) -> float:
    """How far its length may change in a year, quanta (ISO 3650, dimensional stability).

    The widest change where its grade is not known.
    """
    base, share = _rows().get(block.grade or "", _rows()[""])
    return base + share * block.nominal


class _Row(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    grades: list[str]
    base: str
    per_mm: str


class _Table(Sourced, frozen=True, kw_only=True, forbid_unknown_fields=True):
    rows: list[_Row]


@cache
def _rows() -> dict[str, tuple[int, float]]:
    """By grade, quanta and the share of the nominal length; other blocks under an empty name."""
    return {
        grade: (um(row.base), float(row.per_mm) * QUANTA["um"] / QUANTA["mm"])
        for row in load("stability.toml", _Table).rows
        for grade in row.grades or [""]
    }


def variation_of(block: Block) -> int | None:
    """Variation in length, quanta: measured, else the tolerance of its grade; None if not known."""
    measured, row = block.known_calibration.variation, grade_row(block)
    return measured if measured is not None or row is None else row.variation


def variation_row(block: Block, off_centre: float) -> Row | None:
    """The row of a certified block's variation in length.

    A certificate states the length at the centre. Faces that are out of parallel change it by half
    the variation up to the edge, either way. None where the variation is not known or plays no
    part, and for a block without certificate: limits of a grade hold at any point of the face.

    Args:
        block: the block.
        off_centre: 0 touched at the centre only, 1 up to the edge.
    """
    variation = variation_of(block) if block.certified else None
    if not variation or not off_centre:
        return None
    return row("variation_in_length", block.id, rectangular(0.0, off_centre * variation / 2 / NM))
