"""What a request for stacks comes to, once read."""

from msgspec import Struct

from wrung.answers import Objective
from wrung.blocks import Block
from wrung.targets import Target


class StackQuery(Struct, frozen=True, kw_only=True):
    """The arguments of `wrung.solve`; lengths in quanta of 0.01 nm."""

    blocks: tuple[Block, ...]
    targets: tuple[Target, ...]
    objective: Objective
    joint_allowance: int
    exclude: tuple[str, ...]
    only: tuple[str, ...] | None
    time_limit_ms: int
