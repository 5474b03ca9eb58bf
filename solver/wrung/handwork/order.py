"""The order in which a stack is wrung together, and how it then stands.

Common practice, no source: the largest gauge block is the base, the thinner ones follow onto
thicker ones, so that a thin block is never the one that is pressed against and bent. Wear blocks go
on last, outside, where they take the wear: the first onto the last block, a second one onto the
free face of the base. A step block is wrung onto the last gauge block by its foot, with its steps
up: its higher steps stand beside the one in use and above it, so nothing can be wrung onto that,
nor can the stack stand on it. A wear block then goes onto the base.
"""

from collections.abc import Iterable, Sequence
from typing import Final

from wrung.answers import PlacedBlock
from wrung.checked_types import typed

BOTH_ENDS: Final = 2


@typed
def wringing_order(blocks: Iterable[PlacedBlock]) -> tuple[PlacedBlock, ...]:
    """The blocks of a stack in wringing order, base first; of equal blocks by id."""
    return tuple(sorted(blocks, key=_turn))


def _turn(block: PlacedBlock) -> tuple[bool, bool, int, str]:
    return (block.role == "wear", block.body is not None, -block.nominal, block.id)


@typed
def standing(blocks: Sequence[PlacedBlock]) -> tuple[PlacedBlock, ...]:
    """The blocks of a stack as they stand, from one end to the other, from its wringing order."""
    wear = sum(block.role == "wear" for block in blocks)
    step = sum(block.body is not None for block in blocks)
    # The last wear block closes the other end, where a step or another wear block is at one;
    # without a block between two wear blocks there is no other end.
    if not wear or wear + step < BOTH_ENDS or wear == len(blocks):
        return tuple(blocks)
    return (blocks[-1], *blocks[:-1])


@typed
def wrung_onto(blocks: Sequence[PlacedBlock], place: int) -> PlacedBlock:
    """What the block at a place of the wringing order is wrung onto; not for the base."""
    stands = standing(blocks)
    # The one block that is not wrung onto the one before it is that at the free face of the base.
    return blocks[0] if stands[0] is blocks[place] else blocks[place - 1]
