"""How long a stack lies until it has the temperature of its surroundings.

Rules of thumb, from memory of shop practice, no source: on a metal plate 20 minutes for small
stacks, about an hour for each 25 mm up to 3 hours, overnight for more than 100 mm at the highest
accuracy. Ceramic conducts heat badly and is given twice the time.
"""

from collections.abc import Sequence
from typing import Final

from wrung.answers import Stack
from wrung.arguments import with_tuples
from wrung.blocks import Block
from wrung.lengths import mm

OVERNIGHT: Final = mm("100")
_HOUR_FOR: Final = mm("25")
_LEAST, _MOST, _STEP = 20, 180, 10
_SLOW: Final = frozenset({"zirconia", "fused-silica", "zerodur"})
"""Materials that conduct heat badly, by their ids in the table of materials."""


@with_tuples
def soaking_minutes(stack: Stack, blocks: Sequence[Block]) -> int:
    """Minutes to lie on a metal plate, in tens; a rule of thumb."""
    used = {placed.id for placed in stack.blocks}
    slow = any(block.material in _SLOW for block in blocks if block.id in used)
    minutes = -(-60 * stack.nominal // _HOUR_FOR // _STEP) * _STEP
    return min(max(minutes, _LEAST), _MOST) * (2 if slow else 1)
