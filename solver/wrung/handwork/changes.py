"""From one stack to the next with the least handwork: what stays wrung, what goes, what comes."""

from collections.abc import Sequence
from itertools import pairwise
from typing import TypeAlias

from msgspec import Struct

from wrung.answers import PlacedBlock, Stack
from wrung.checked_types import typed
from wrung.handwork.order import standing

Joint: TypeAlias = frozenset[tuple[str, bool]]
"""The two blocks that meet there, whichever step of a step block is used."""
Joints: TypeAlias = frozenset[Joint]


class Changes(Struct, frozen=True, kw_only=True):
    """What becomes of the blocks of one stack in the next.

    Attributes:
        kept: blocks of both stacks, in the order of the next one.
        removed: blocks of the first stack only.
        added: blocks of the next stack only.
        runs: kept blocks that stay wrung to one another: neighbours in both stacks.
        joints: the joints that stay closed.
        stepped: whether another step is used; its step block may stay where it is.
    """

    kept: tuple[PlacedBlock, ...]
    removed: tuple[PlacedBlock, ...]
    added: tuple[PlacedBlock, ...]
    runs: tuple[tuple[PlacedBlock, ...], ...]
    joints: Joints
    stepped: bool = False

    @property
    def wringings(self) -> int:
        """Joints that have to be wrung for the next stack."""
        blocks = len(self.kept) + len(self.added)
        return max(blocks - 1, 0) - len(self.joints)

    @property
    def none(self) -> bool:
        """Whether the stacks are the same, but for the step of a step block that is used."""
        return not self.removed and not self.added


def changes(previous: Stack, following: Stack) -> Changes:
    """What has to be done to turn one stack into another."""
    before = {block.taken_as for block in previous.blocks}
    after = {block.taken_as for block in following.blocks}
    steps = [{b.id for b in s.blocks if b.body is not None} for s in (previous, following)]
    closed = joints_of(previous.blocks) & joints_of(following.blocks)
    return Changes(
        kept=tuple(block for block in following.blocks if block.taken_as in before),
        removed=tuple(block for block in previous.blocks if block.taken_as not in after),
        added=tuple(block for block in following.blocks if block.taken_as not in before),
        runs=_runs(standing(following.blocks), closed),
        joints=closed,
        stepped=steps[0] != steps[1],
    )


@typed
def joints_of(blocks: Sequence[PlacedBlock]) -> Joints:
    """Every joint of a stack, from its wringing order."""
    return frozenset(joint(a, b) for a, b in pairwise(standing(blocks)))


def joint(one: PlacedBlock, other: PlacedBlock) -> Joint:
    """The joint of two blocks."""
    return frozenset((one.taken_as, other.taken_as))


def _runs(stands: Sequence[PlacedBlock], closed: Joints) -> tuple[tuple[PlacedBlock, ...], ...]:
    runs: list[list[PlacedBlock]] = []
    for below, block in pairwise(stands):
        if joint(below, block) not in closed:
            continue
        if runs and runs[-1][-1] is below:
            runs[-1].append(block)
        else:
            runs.append([below, block])
    return tuple(tuple(run) for run in runs)
