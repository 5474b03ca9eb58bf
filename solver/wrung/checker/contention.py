"""What may not be together: stacks that need one block, steps of a step block, too many blocks."""

from collections.abc import Collection, Iterable, Mapping, Sequence
from datetime import UTC, datetime
from itertools import combinations

from wrung.answers import Restriction
from wrung.blocks import Block
from wrung.targets import Requirement
from wrung.targets.requirement import WEAR_COUNT


def needed_together(stacks: Sequence[Requirement]) -> bool:
    """Whether all of them stand at one time: times and steps that overlap by twos have a moment."""
    return all(overlap(one, other) for one, other in combinations(stacks, 2))


def overlap(one: Requirement, other: Requirement) -> bool:
    """Whether both stand at one time; the end of a time is not part of it."""
    # Steps of one sequence follow one another, so only stacks of the same step meet.
    in_turn = one.turn and other.turn and one.turn.of == other.turn.of
    if in_turn and one.turn != other.turn:
        return False
    return _start(one) < _end(other) and _start(other) < _end(one)


def _start(requirement: Requirement) -> datetime:
    return requirement.needed_from or datetime.min.replace(tzinfo=UTC)


def _end(requirement: Requirement) -> datetime:
    return requirement.needed_until or datetime.max.replace(tzinfo=UTC)


def common_time(stacks: Collection[Requirement]) -> tuple[datetime | None, datetime | None]:
    """When the last of them begins and the first ends; None where none has such a time."""
    starts = (each.needed_from for each in stacks if each.needed_from is not None)
    ends = (each.needed_until for each in stacks if each.needed_until is not None)
    return max(starts, default=None), min(ends, default=None)


def steps_fit(stack: Iterable[Block], wanted: Requirement, wear: int) -> bool:
    """At most one of the blocks is a step, where that is allowed and an end has no wear block.

    ``wear`` is how many wear blocks the stack has.
    """
    steps = sum(block.body is not None for block in stack)
    return steps == 0 or (steps == 1 and wanted.takes_step and wear <= 1)


def may_stand(
    blocks: Sequence[Block], wanted: Requirement, lifted: Collection[Restriction] = ()
) -> bool:
    """Whether these are as many blocks, and of the roles, as a stack may have, but for its length.

    ``lifted`` are the restrictions that it need not keep.
    """
    wear = 0 if "wear_blocks" in lifted else WEAR_COUNT[wanted.wear_blocks]
    most = None if "max_blocks" in lifted else wanted.max_blocks
    return (
        sum(block.role == "wear" for block in blocks) == wear
        and steps_fit(blocks, wanted, wear)
        and (most is None or len(blocks) <= most)
    )


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
