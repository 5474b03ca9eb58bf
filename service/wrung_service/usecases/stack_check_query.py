"""A request to check a stack, once read."""

from msgspec import Struct

from wrung.blocks import Block
from wrung.metrology import Conditions, Instrument, Purpose


class StackCheckQuery(Struct, frozen=True, kw_only=True):
    """The arguments of `wrung.metrology.check_stack`, and what else to find out.

    Attributes:
        usable: the blocks of the shelf that are not overdue, for a better stack.
        purpose: what the stack must be good enough for; None if nothing in particular.
        find_better_stacks: whether to look for a better stack.
    """

    shelf: tuple[Block, ...]
    usable: tuple[Block, ...]
    stack: tuple[str, ...]
    length: int
    conditions: Conditions
    joint_allowance: int
    instruments: tuple[Instrument, ...]
    purpose: Purpose | None
    find_better_stacks: bool
    time_limit_ms: int
    memory_limit_mb: int
