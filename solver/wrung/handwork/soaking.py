"""How long blocks and stacks lie until they have the temperature of their surroundings.

Rules of thumb, from memory of shop practice, no source: on a metal plate 20 minutes for small
blocks, about an hour for each 25 mm of the largest up to 3 hours, overnight for more than 100 mm at
the highest accuracy. Ceramic conducts heat badly and is given twice the time, 3 hours at most. The
blocks of a whole series lie together, once. A stack that was handled for wringing lies once more
for 20 minutes.
"""

from collections.abc import Sequence
from typing import Final

from wrung.blocks import Block
from wrung.checked_types import typed
from wrung.handwork.materials import any_slow
from wrung.lengths import mm

_HOUR_FOR: Final = mm("25")
_LEAST, _MOST, _STEP = 20, 180, 10


@typed
def normalising_minutes(blocks: Sequence[Block]) -> int:
    """Minutes for blocks from the case to lie on a metal plate, in tens; a rule of thumb."""
    largest = max((block.nominal for block in blocks), default=0)
    minutes = -(-60 * largest // _HOUR_FOR // _STEP) * _STEP
    return min(max(minutes, _LEAST) * _times(blocks), _MOST)


@typed
def soaking_minutes(blocks: Sequence[Block]) -> int:
    """Minutes for a stack to lie after it was wrung, before it is used; a rule of thumb."""
    return _LEAST * _times(blocks)


def _times(blocks: Sequence[Block]) -> int:
    return 2 if any_slow(blocks) else 1
