"""From one stack to the next with the least handwork: what stays wrung, what goes, what comes."""

from collections.abc import Sequence
from itertools import pairwise
from typing import TypeAlias

from msgspec import Struct

from wrung.answers import PlacedBlock, Stack
from wrung.arguments import with_tuples
from wrung.handwork.order import standing

Joints: TypeAlias = frozenset[frozenset[str]]
"""Each joint as the ids of the two blocks that meet there."""


class Changes(Struct, frozen=True, kw_only=True):
    """What becomes of the blocks of one stack in the next.

    Attributes:
        kept: blocks of both stacks, in the order of the next one.
        removed: blocks of the first stack only.
        added: blocks of the next stack only.
        runs: kept blocks that stay wrung to one another: neighbours in both stacks.
        joints: the joints that stay closed.
    """

    kept: tuple[PlacedBlock, ...]
    removed: tuple[PlacedBlock, ...]
    added: tuple[PlacedBlock, ...]
    runs: tuple[tuple[PlacedBlock, ...], ...]
    joints: Joints

    @property
    def wringings(self) -> int:
        """Joints that have to be wrung for the next stack."""
        blocks = len(self.kept) + len(self.added)
        return max(blocks - 1, 0) - len(self.joints)

    @property
    def none(self) -> bool:
        """Whether the stacks are the same."""
        return not self.removed and not self.added


def changes(previous: Stack, following: Stack) -> Changes:
    """What has to be done to turn one stack into another."""
    before = {block.id for block in previous.blocks}
    after = {block.id for block in following.blocks}
    closed = joints_of(previous.blocks) & joints_of(following.blocks)
    return Changes(
        kept=tuple(block for block in following.blocks if block.id in before),
        removed=tuple(block for block in previous.blocks if block.id not in after),
        added=tuple(block for block in following.blocks if block.id not in before),
        runs=_runs(standing(following.blocks), closed),
        joints=closed,
    )


@with_tuples
def joints_of(blocks: Sequence[PlacedBlock]) -> Joints:
    """Every joint of a stack, from its wringing order."""
    return frozenset(joint(a, b) for a, b in pairwise(standing(blocks)))


def joint(one: PlacedBlock, other: PlacedBlock) -> frozenset[str]:
    """The joint of two blocks."""
    return frozenset((one.id, other.id))


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
