"""Another stack in place of one whose blocks failed: the one that changes the fewest blocks."""

from collections.abc import Callable, Iterable, Iterator, Sequence
from itertools import combinations
from typing import Final, TypeAlias

from msgspec.structs import replace

from wrung.blocks import Block
from wrung.targets import Requirement, Tolerance, WearBlocks
from wrung.targets.requirement import WEAR_COUNT

_MOST_TRIED: Final = 300
"""Choices of blocks to keep; each costs a search of a millisecond or two."""

SolveOne: TypeAlias = Callable[[Sequence[Block], Requirement], Sequence[Block] | None]
"""The best stack of some blocks for a requirement, in wringing order; None if there is none."""


def replace_blocks(
    wanted: Requirement, left: Sequence[Block], free: Sequence[Block], solve: SolveOne
) -> Sequence[Block] | None:
    """A stack that takes off and puts on as few blocks as can be.

    Args:
        wanted: the stack.
        left: blocks of the old stack that have not failed.
        free: all blocks that may be used, those among them.
        solve: finds what is put on beside the blocks that are kept.

    Returns:
        The new stack; None if no stack can be built.
    """
    best: Sequence[Block] | None = None
    fewest = len(left) + len(free) + 1
    for kept in _choices(left):
        off = len(left) - len(kept)
        if off >= fewest:
            break
        put_on = _beside(wanted, kept, free, solve)
        if put_on is not None and off + len(put_on) < fewest:
            fewest, best = off + len(put_on), (*kept, *put_on)
    # Once more as a whole, for the order of wringing.
    return None if best is None else solve(best, wanted)


def _choices(left: Sequence[Block]) -> Iterator[tuple[Block, ...]]:
    """What could be kept, the most first; nothing at all is the last choice."""
    tried = 0
    for size in range(len(left), 0, -1):
        for kept in combinations(left, size):
            if tried == _MOST_TRIED:
                yield ()
                return
            tried += 1
            yield kept
    yield ()


def _beside(
    wanted: Requirement, kept: Sequence[Block], free: Iterable[Block], solve: SolveOne
) -> Sequence[Block] | None:
    """What must be put on beside the blocks that are kept; None if that cannot be."""
    rest = _rest(wanted, kept)
    if rest is None:
        return None
    low, high = rest.length + rest.tolerance.lower, rest.length + rest.tolerance.upper
    if low <= 0 <= high and WEAR_COUNT[rest.wear_blocks] == 0:
        return ()
    if high <= 0 or rest.max_blocks == 0:
        return None
    names = {block.id for block in kept}
    # A stack has one step, and none between wear blocks at both ends.
    stepped = any(block.body is not None for block in kept) or wanted.wear_blocks == "both"
    left = [b for b in free if b.id not in names and not (stepped and b.body is not None)]
    return solve(left, _positive(rest))


def _rest(wanted: Requirement, kept: Sequence[Block]) -> Requirement | None:
    """What is left to build beside blocks; None if they do not fit into it."""
    wear = WEAR_COUNT[wanted.wear_blocks] - sum(block.role == "wear" for block in kept)
    if wear < 0:
        return None
    by_count: dict[int, WearBlocks] = {count: name for name, count in WEAR_COUNT.items()}
    most = None if wanted.max_blocks is None else wanted.max_blocks - len(kept)
    if most is not None and most < 0:
        return None
    return replace(
        wanted,
        length=wanted.length - sum(block.nominal for block in kept),
        max_blocks=most,
        wear_blocks=by_count[wear],
    )


def _positive(rest: Requirement) -> Requirement:
    """The same lengths around a middle that is greater than zero, as a target must have."""
    if rest.length > 0:
        return rest
    high = rest.length + rest.tolerance.upper
    low = rest.length + rest.tolerance.lower
    return replace(rest, length=high, tolerance=Tolerance(lower=low - high, upper=0))
