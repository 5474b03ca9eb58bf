"""The order in which a stack is wrung together.

Common practice, no source: the longest block is the base, the thinner ones follow onto thicker
ones, so that a thin block is never the one that is pressed against and bent; wear blocks stand
outermost, where they take the wear. With one wear block it stands on top; with two, one is below.
"""

from collections.abc import Iterable

from wrung.answers import PlacedBlock
from wrung.arguments import with_tuples


@with_tuples
def wringing_order(blocks: Iterable[PlacedBlock]) -> tuple[PlacedBlock, ...]:
    """The blocks of a stack in wringing order, base first; of equal blocks by id."""
    ordered = sorted(blocks, key=lambda block: (-block.nominal, block.id))
    gauge = tuple(block for block in ordered if block.role == "gauge")
    wear = tuple(block for block in ordered if block.role == "wear")
    # Of an even number half stand below; an odd one stands on top.
    below = len(wear) // 2
    return wear[:below] + gauge + wear[below:]
