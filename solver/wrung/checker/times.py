"""The checker's times: which stacks are needed at once."""

from collections.abc import Sequence
from datetime import UTC, datetime
from itertools import combinations

from wrung.targets import Requirement


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
