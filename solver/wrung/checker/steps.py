"""What step blocks may not do: two steps of one at one time, or a step between other blocks."""

from collections.abc import Collection, Iterable, Mapping

from wrung.blocks import Block
from wrung.targets import Requirement


def steps_fit(stack: Iterable[Block], wanted: Requirement, wear: int) -> bool:
    """At most one of the blocks is a step, where that is allowed and an end has no wear block.

    ``wear`` is how many wear blocks the stack has.
    """
    steps = sum(block.body is not None for block in stack)
    return steps == 0 or (steps == 1 and wanted.takes_step and wear <= 1)


def whole_bodies(names: Collection[str], shelf: Mapping[str, Block]) -> set[str]:
    """These blocks, and the other steps of every step block among them."""
    bodies = {shelf[name].body for name in names if name in shelf} - {None}
    if not bodies:
        return set(names)
    return {*names, *(name for name, block in shelf.items() if block.body in bodies)}


def body_of(name: str, shelf: Mapping[str, Block]) -> tuple[str, bool]:
    """What a block is taken off the shelf with: its step block, or itself."""
    body = shelf[name].body if name in shelf else None
    return (name, False) if body is None else (body, True)
