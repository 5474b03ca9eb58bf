"""Rows of the blocks' lengths: the certificate's uncertainty, or the limits of the grade."""

from typing import Final

from wrung.blocks import Block, limits_of, margin
from wrung.metrology.budget.rows import NM, Row, row
from wrung.metrology.quantities import Quantity, between, expanded

UNNAMED: Final = ""
"""Stands for the certificate of blocks whose certificate is not named.

They are all taken to be of one, to be on the safe side: uncertainties of one reference add.
"""


def length_row(block: Block) -> Row:
    """The row of a block's deviation from its nominal length.

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
    certificate = calibration.certificate or UNNAMED
    return row("certified_length", block.id, value, certificate=certificate)


def deviation_within_limits(block: Block) -> Quantity:
    """Deviation, nm, of a block that is only known to keep limits.

    Limits that are not the same on both sides have their middle as the best estimate.

    Raises:
        InputError: the block has neither limits nor a grade that covers it.
    """
    allowed = limits_of(block)
    return between(allowed.lower / NM, allowed.upper / NM)
