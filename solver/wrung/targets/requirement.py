"""What every kind of target turns into: a plain length that a stack must have."""

from datetime import datetime
from typing import Literal, TypeAlias

from msgspec import Struct

from wrung.checked_types import CheckedStruct
from wrung.measures import Difference
from wrung.stack_names import Named

WearBlocks: TypeAlias = Literal["none", "one", "both"]
"""How many ends of a stack carry a wear block."""
WEAR_COUNT: dict[WearBlocks, int] = {"none": 0, "one": 1, "both": 2}


class Tolerance(CheckedStruct, frozen=True, kw_only=True):
    """Allowed difference, in quanta, of a stack's nominal length from the wanted one."""

    lower: Difference = 0
    upper: Difference = 0


class Turn(Struct, frozen=True, kw_only=True):
    """The place of a stack in a sequence, in which stacks of other places come before and after it.

    Attributes:
        of: the target whose stacks follow one another; None where the targets themselves do.
        step: the place. Stacks of one step stand together, those of different ones never.
    """

    of: str | None
    step: tuple[int, ...]


class Requirement(Named, frozen=True, kw_only=True):
    """One stack to build.

    Attributes:
        target: ref of the target that needs it.
        role: the part that it plays in it, where the target needs several; unique in the target.
        length: wanted length, quanta.
        tolerance: allowed difference of the nominal length from it; exact by default.
        max_blocks: maximum number of blocks, wear blocks included.
        wear_blocks: how many ends carry a wear block.
        needed_from: start of the time it is needed; None means that it has no start.
        needed_until: end of it, itself not included; None means that it has no end.
        turn: its place in a sequence, whose steps are built one after another within the time
            they are needed: no two steps stand at once, so blocks serve again.
        setup: the set-up that the target names, if it names one.
        priority: 1 for the most urgent, None for the least.
        takes_step: whether a step of a step block may be on top.
    """

    length: int
    tolerance: Tolerance = Tolerance()
    max_blocks: int | None = None
    wear_blocks: WearBlocks = "none"
    needed_from: datetime | None = None
    needed_until: datetime | None = None
    turn: Turn | None = None
    setup: str | None = None
    priority: int | None = None
    takes_step: bool = True
