"""The same questions, answered by trying every subset of a few blocks."""

from collections.abc import Collection, Sequence
from itertools import combinations

from wrung.answers import Wanted
from wrung.blocks import Block
from wrung.coverage import LengthGrid
from wrung.targets.requirement import WEAR_COUNT, WearBlocks

Fewest = dict[int, int]


def fewest(
    blocks: Sequence[Block | Wanted], grid: LengthGrid, *, most: int, wear: WearBlocks = "none"
) -> Fewest:
    """By grid point that can be built the least number of blocks."""
    found: Fewest = {}
    points = set(grid.points)
    for count in range(1, min(most, len(blocks)) + 1):
        for chosen in combinations(blocks, count):
            steps = sum(isinstance(block, Block) and block.body is not None for block in chosen)
            worn = sum(block.role == "wear" for block in chosen)
            if worn == WEAR_COUNT[wear] and steps <= (0 if wear == "both" else 1):
                total = sum(block.nominal for block in chosen)
                if total in points:
                    found.setdefault(total, count)
    return found


def compared(before: Fewest, after: Fewest) -> tuple[int, int]:
    """Points that are in ``before`` and not in ``after``, and those that need more there."""
    gone = [point for point in before if point not in after]
    more = [point for point in before if point in after and after[point] > before[point]]
    return len(gone), len(more)


def best(
    blocks: Sequence[Block],
    offers: Collection[Sequence[Wanted]],
    grid: LengthGrid,
    *,
    most: int,
    wear: WearBlocks,
) -> tuple[int, int]:
    """The most points that any of the offers restores, and the least length of one that does."""
    before = fewest(blocks, grid, most=most, wear=wear)

    def restored(offer: Sequence[Wanted]) -> tuple[int, int]:
        after = fewest([*blocks, *offer], grid, most=most, wear=wear)
        return compared(after, before)[0], -sum(block.nominal for block in offer)

    return max(map(restored, offers), default=(0, 0))
