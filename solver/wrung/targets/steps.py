"""The step to which a computed length is rounded, so that blocks can build it."""

from collections.abc import Iterable
from math import gcd
from typing import Final

from wrung.blocks import Block
from wrung.lengths import Unit, um

DEFAULT_STEP: Final = um("0.5")
"""The finest step of the larger metric sets, whose one block of 1.0005 mm makes it."""


def to_step(length: int, step: int | None) -> int:
    """The multiple of the step nearest to a length, quanta; half a step is rounded up."""
    size = step or DEFAULT_STEP
    return (2 * length + size) // (2 * size) * size


def finest_step(blocks: Iterable[Block], unit: Unit) -> int | None:
    """The step in which the gauge blocks marked in ``unit`` are graded; None without any.

    It is the largest length that divides all their nominal lengths, such as 0.0001 in for the
    usual inch sets or 0.0005 mm for metric sets with a block of 1.0005 mm.
    """
    own = (block.nominal for block in blocks if block.unit == unit and block.role == "gauge")
    return gcd(*own) or None
