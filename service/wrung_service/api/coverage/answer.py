"""The answer of ``POST /v1/coverage`` as it stands on the wire."""

from datetime import date
from typing import Annotated

from msgspec import Meta, Struct

from wrung.coverage import Surveyed
from wrung.lengths import Unit
from wrung_service.api.metrology.overdue import OverdueBlock
from wrung_service.api.stacks.answer import BlockToAdd
from wrung_service.api.texts import DecimalText, WaitedMs


class CoveredRange(Struct, frozen=True, kw_only=True):
    """The lengths that were looked at."""

    start: Annotated[DecimalText, Meta(description="First length.")]
    stop: Annotated[DecimalText, Meta(description="Last length: the last that is not beyond.")]
    step: Annotated[DecimalText, Meta(description="From one to the next.")]
    length_count: Annotated[int, Meta(ge=1, description="How many there are.")]


class LengthRun(Struct, frozen=True, kw_only=True):
    """Adjacent lengths that all can, or all cannot, be built."""

    first: Annotated[DecimalText, Meta(description="First length.")]
    last: Annotated[DecimalText, Meta(description="Last length.")]
    length_count: Annotated[int, Meta(ge=1, description="How many there are.")]
    buildable: Annotated[bool, Meta(description="Whether they can be built.")]
    max_blocks_needed: Annotated[
        int, Meta(ge=0, description="Most blocks that any of them needs; 0 if none can be built.")
    ]


class LengthGap(Struct, frozen=True, kw_only=True):
    """Adjacent lengths that cannot be built."""

    first: Annotated[DecimalText, Meta(description="First length.")]
    last: Annotated[DecimalText, Meta(description="Last length.")]
    length_count: Annotated[int, Meta(ge=1, description="How many there are.")]


class BlocksNeeded(Struct, frozen=True, kw_only=True):
    """How many lengths need so many blocks, and no fewer."""

    block_count: Annotated[int, Meta(ge=1, description="The least number of blocks.")]
    length_count: Annotated[int, Meta(ge=1, description="How many lengths need them.")]


class BuildableLengths(Struct, frozen=True, kw_only=True):
    """Which of the lengths can be built, each by itself."""

    length_count: Annotated[int, Meta(ge=0, description="How many can be built.")]
    share: Annotated[
        float,
        Meta(ge=0, le=1, description="Share of all lengths, rounded down: 1 means all of them."),
    ]
    by_block_count: Annotated[
        tuple[BlocksNeeded, ...], Meta(description="By the least number of blocks, ascending.")
    ]
    runs: Annotated[
        tuple[LengthRun, ...], Meta(description="The range in runs, ascending; the first ones.")
    ]
    run_count: Annotated[int, Meta(ge=1, description="How many runs there are.")]
    gaps: Annotated[
        tuple[LengthGap, ...], Meta(description="What cannot be built; the largest gaps first.")
    ]
    gap_count: Annotated[int, Meta(ge=0, description="How many gaps there are.")]


class BlockLoss(Struct, frozen=True, kw_only=True):
    """What would be lost without a block."""

    id: Annotated[str, Meta(description="The block.")]
    lengths_lost: Annotated[
        int, Meta(ge=0, description="Lengths that could not be built without it.")
    ]
    lengths_with_more_blocks: Annotated[
        int, Meta(ge=0, description="Lengths that would need more blocks without it.")
    ]


class BlockAddition(Struct, frozen=True, kw_only=True):
    """What would be won with one or two blocks more."""

    blocks: Annotated[tuple[BlockToAdd, ...], Meta(description="The blocks.")]
    lengths_gained: Annotated[
        int, Meta(ge=1, description="Lengths that could be built then, and cannot now.")
    ]
    lengths_with_fewer_blocks: Annotated[
        int, Meta(ge=0, description="Lengths that would then need fewer blocks than now.")
    ]


class BestAdditions(Struct, frozen=True, kw_only=True):
    """The offered blocks that would restore most lengths; of equal ones the shortest."""

    blocks_compared: Annotated[int, Meta(ge=0, description="How many blocks were compared.")]
    single_blocks: Annotated[
        tuple[BlockAddition, ...],
        Meta(description="The best single blocks, ten at most; proven. Empty if none helps."),
    ]
    best_pair: Annotated[
        BlockAddition | None,
        Meta(description="The best two together; null if no two do more than the best one."),
    ]
    best_pair_proven: Annotated[
        bool,
        Meta(description="Whether every pair was compared or ruled out; else the time ended."),
    ]


class CoverageAnswer(Struct, frozen=True, kw_only=True):
    """What an inventory covers."""

    unit: Annotated[Unit, Meta(description="Unit of the lengths, but of blocks with their own.")]
    outcome: Annotated[
        Surveyed,
        Meta(
            description="`complete`. `partial`: the time ended before every question was settled; "
            "what is there is true. `unknown`: it ended before anything was."
        ),
    ]
    range: Annotated[CoveredRange, Meta(description="The lengths that were looked at.")]
    max_blocks: Annotated[int, Meta(ge=1, description="Most blocks that a stack may have.")]
    buildable: Annotated[
        BuildableLengths | None, Meta(description="What can be built; null if the time ended.")
    ]
    losses: Annotated[
        tuple[BlockLoss, ...] | None,
        Meta(
            description="What each usable block matters, most first; null if the time ended. Each "
            "is taken away alone: of two equal blocks neither may be missed."
        ),
    ]
    additions: Annotated[
        BestAdditions | None,
        Meta(description="Which blocks would help most; null if the time ended."),
    ]
    overdue_blocks: Annotated[
        tuple[OverdueBlock, ...], Meta(description="Blocks left out because they are overdue.")
    ]
    used_on: Annotated[
        date | None,
        Meta(description="Day of use that was reckoned with; null where no block has dates."),
    ]
    picture: Annotated[
        str | None,
        Meta(description="The drawing, an SVG document; null if not wanted or the time ended."),
    ]
    solve_ms: Annotated[float, Meta(ge=0, description="Time that it took, ms.")]
    waited_ms: WaitedMs
