"""Rows of the variation in length, where a stack is not touched at the centre of its faces."""

from wrung.blocks import Block, grade_row
from wrung.metrology.budget.rows import NM, Row, row
from wrung.metrology.quantities import rectangular


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
