"""Questions about coverage and their answers. All lengths are quanta of 0.01 nm."""

from collections.abc import Sequence
from typing import Final, Literal, TypeAlias

from msgspec import Struct

from wrung.answers import Wanted
from wrung.checked_types import CheckedStruct

Surveyed: TypeAlias = Literal["complete", "partial", "unknown"]
"""Whether the whole grid was surveyed, a part of it, or nothing before the time was up."""

MOST_BLOCKS: Final = 250
"""No stack of more blocks is looked for; none that is wrung by hand has half as many."""


class LengthGrid(CheckedStruct, frozen=True, kw_only=True):
    """Equally spaced lengths: ``start``, ``start + step``, and so on, none beyond ``stop``."""

    start: int
    stop: int
    step: int

    @property
    def points(self) -> Sequence[int]:
        """The lengths, ascending."""
        # A range: two million lengths take no room until they are asked for.
        return range(self.start, self.stop + 1, self.step)


class Run(Struct, frozen=True, kw_only=True):
    """Adjacent grid points that all can, or all cannot, be built.

    Attributes:
        first: first length.
        last: last length.
        length_count: how many there are.
        buildable: whether they can be built.
        max_blocks_needed: the most blocks that any of them needs; 0 where none can be built.
    """

    first: int
    last: int
    length_count: int
    buildable: bool
    max_blocks_needed: int


class NeededBlocks(Struct, frozen=True, kw_only=True):
    """How many grid points need this many blocks and no fewer."""

    block_count: int
    length_count: int


class Reach(Struct, frozen=True, kw_only=True):
    """What can be built.

    Attributes:
        fewest: one byte for each grid point: the least number of blocks, 0 where none do.
        buildable_count: how many points can be built.
        histogram: the points that can be built, by that number, ascending.
        runs: the grid in runs, ascending; the first ones if there are more than were asked for.
        run_count: how many runs there are.
        gaps: the runs that cannot be built, those of most points first; likewise.
        gap_count: how many of them there are.
    """

    fewest: bytes
    buildable_count: int
    histogram: tuple[NeededBlocks, ...]
    runs: tuple[Run, ...]
    run_count: int
    gaps: tuple[Run, ...]
    gap_count: int


class Loss(Struct, frozen=True, kw_only=True):
    """What would be lost without a block; without a step, as its whole step block is gone.

    Attributes:
        block: its id.
        lengths_lost: points that only stacks with it can have.
        lengths_with_more_blocks: points that would need more blocks without it.
    """

    block: str
    lengths_lost: int
    lengths_with_more_blocks: int


class Addition(Struct, frozen=True, kw_only=True):
    """What one or two more blocks would add.

    Attributes:
        blocks: the blocks.
        lengths_gained: points that could be built then, and cannot now.
        lengths_with_fewer_blocks: points that can be built now, and would then need fewer blocks.
    """

    blocks: tuple[Wanted, ...]
    lengths_gained: int
    lengths_with_fewer_blocks: int


class Additions(Struct, frozen=True, kw_only=True):
    """The blocks that would make the most points buildable; of equals, the shortest.

    Attributes:
        blocks_compared: how many blocks were compared; one given twice counts twice.
        single_blocks: single blocks that restore something, the best first, ten at most; proven.
        best_pair: the best two together; None where no two restore more than the best one.
        best_pair_proven: whether all pairs were compared or ruled out; else the time ended first.
    """

    blocks_compared: int
    single_blocks: tuple[Addition, ...]
    best_pair: Addition | None
    best_pair_proven: bool


class Coverage(Struct, frozen=True, kw_only=True):
    """Find out which lengths can be built.

    Attributes:
        outcome: ``complete``; ``partial`` where the time ended before every question was settled;
            ``unknown`` where it ended before anything was.
        grid: what was asked for.
        max_blocks: maximum number of blocks in a stack, wear blocks included.
        reach: what can be built; None if unknown.
        losses: what would be lost without each usable block, the greatest loss first; None if the
            time ran out first.
        additions: which blocks would help most; likewise.
        solve_ms: time taken, ms.
    """

    outcome: Surveyed
    grid: LengthGrid
    max_blocks: int
    reach: Reach | None
    losses: tuple[Loss, ...] | None
    additions: Additions | None
    solve_ms: float


class CoverageComparison(Struct, frozen=True, kw_only=True):
    """Two inventories on one grid.

    Attributes:
        grid: the lengths.
        both: how many lengths both build.
        neither: how many lengths neither builds.
        fewer_with_first: of those that both build, how many take fewer blocks of the first.
        fewer_with_second: likewise, of the second.
        only_first: the lengths that only the first builds.
        only_second: the lengths that only the second builds.
    """

    grid: LengthGrid
    both: int
    neither: int
    fewer_with_first: int
    fewer_with_second: int
    only_first: Reach
    only_second: Reach
