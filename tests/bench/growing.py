"""Invented requests that grow by targets, by blocks, or by how many are needed at one time.

Targets grow over three sets, blocks with six targets, and overlap in a day of targets from one set.
"""

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from random import Random
from typing import Final

from msgspec import Struct
from msgspec.structs import replace

from wrung import Block, GaugeSet, LengthTarget, Objective, inch, uin

TARGETS: Final = (1, 2, 4, 6, 9, 12, 16, 20, 28, 40)
BLOCKS: Final = (10, 20, 40, 81, 162, 243, 400, 600)
SETS: Final = 3
"""Of 81 blocks, where the number of targets grows."""
STACKS: Final = 6
"""Where the number of blocks grows."""
OVERLAPS: Final = (1, 2, 4, 8, 16, 24)
DAY: Final = 24
"""Targets of a day, where the overlap of their times grows."""
MINUTES: Final = 960
_SIX: Final = datetime(2031, 3, 3, 6, tzinfo=UTC)
EDGES: Final = ((60, 600), (100, 1000))
"""Targets and blocks at the edge of what the service takes, for memory and lateness alone."""


class Case(Struct, frozen=True, kw_only=True):
    """A request, without its objective and time limit."""

    blocks: Sequence[Block]
    targets: Sequence[LengthTarget]


def with_targets(count: int, seed: int) -> Case:
    """So many lengths of four decimals, all blocks certified."""
    random = Random(f"targets/{count}/{seed}")
    lengths = [random.randrange(3_000, 20_000) * inch("0.0001") for _ in range(count)]
    return Case(blocks=_shelf(SETS, random), targets=_targets(lengths))


def with_blocks(count: int, seed: int, *, targets: int = STACKS) -> Case:
    """So many blocks out of sets; each length is that of two to four of them."""
    random = Random(f"blocks/{count}/{seed}")
    whole = _shelf(-(-count // 81), random)
    blocks = random.sample(whole, count)
    chosen = [random.sample(blocks, random.randint(2, 4)) for _ in range(targets)]
    return Case(
        blocks=blocks,
        targets=_targets([sum(block.nominal for block in stack) for stack in chosen]),
    )


def with_overlap(overlap: int, seed: int) -> Case:
    """A day from one set: stacks stand for so long that so many are needed at one time, on average.

    With as many as there are targets, all are needed the whole day.
    """
    random = Random(f"overlap/{overlap}/{seed}")
    lengths = [random.randrange(3_000, 20_000) * inch("0.0001") for _ in range(DAY)]
    minutes = MINUTES * overlap // DAY
    starts = [_SIX + timedelta(minutes=random.randint(0, MINUTES - minutes)) for _ in lengths]
    targets = [
        replace(target, needed_from=start, needed_until=start + timedelta(minutes=minutes))
        for target, start in zip(_targets(lengths), starts, strict=True)
    ]
    return Case(blocks=_shelf(1, random), targets=targets)


def _shelf(sets: int, random: Random) -> list[Block]:
    return [
        _certified(block, random)
        for number in range(1, sets + 1)
        for block in GaugeSet(id=f"set-{number}", composition="inch-81", grade="AS-1").blocks()
    ]


def _certified(block: Block, random: Random) -> Block:
    deviation = random.randint(-30, 30) * uin("0.1")
    return replace(block, deviation=deviation, expanded_uncertainty=uin("2"))


def _targets(lengths: Sequence[int]) -> list[LengthTarget]:
    return [LengthTarget(ref=f"op{n}0", length=length) for n, length in enumerate(lengths, 1)]


OBJECTIVES: Final[tuple[Objective, ...]] = ("fewest_blocks", "least_error")
