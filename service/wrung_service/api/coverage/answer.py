"""The answer of ``POST /v1/coverage`` as it stands on the wire."""

from datetime import date
from typing import Annotated

from msgspec import Meta, Struct

from wrung.coverage import Surveyed
from wrung.lengths import Unit
from wrung_service.api.metrology.overdue import OverdueBlock
from wrung_service.api.stacks.unmet import BlockToAdd
from wrung_service.api.texts import DecimalText, WaitedMs


class CoveredRange(Struct, frozen=True, kw_only=True):
    """The lengths considered."""

    start: Annotated[DecimalText, Meta(description="First length.")]
    stop: Annotated[
        DecimalText,
        Meta(description="Last length: the last one that is not beyond `stop` of the request."),
    ]
    step: Annotated[DecimalText, Meta(description="From one to the next.")]
    length_count: Annotated[int, Meta(ge=1, description="How many there are.")]


class LengthRun(Struct, frozen=True, kw_only=True):
    """Adjacent lengths, either all buildable or all not."""

    first: Annotated[DecimalText, Meta(description="First length.")]
    last: Annotated[DecimalText, Meta(description="Last length.")]
    length_count: Annotated[int, Meta(ge=1, description="How many there are.")]
    buildable: Annotated[bool, Meta(description="Whether they can be built.")]
    max_blocks_needed: Annotated[
        int,
        Meta(
            ge=0, description="The most blocks that any of them needs; 0 if they cannot be built."
        ),
    ]


class LengthGap(Struct, frozen=True, kw_only=True):
    """Adjacent lengths that cannot be built."""

    first: Annotated[DecimalText, Meta(description="First length.")]
    last: Annotated[DecimalText, Meta(description="Last length.")]
    length_count: Annotated[int, Meta(ge=1, description="How many there are.")]


class BlocksNeeded(Struct, frozen=True, kw_only=True):
    """How many lengths need this many blocks and no fewer."""

    block_count: Annotated[int, Meta(ge=1, description="The least number of blocks.")]
    length_count: Annotated[int, Meta(ge=1, description="How many lengths need them.")]


class BuildableLengths(Struct, frozen=True, kw_only=True):
    """Which of the lengths can be built, each considered by itself."""

    length_count: Annotated[int, Meta(ge=0, description="How many can be built.")]
    share: Annotated[
        float,
        Meta(
            ge=0,
            le=1,
            description="Share of all lengths that can be built, rounded down: 1 "
            "means all of them.",
        ),
    ]
    by_block_count: Annotated[
        tuple[BlocksNeeded, ...], Meta(description="By the least number of blocks, ascending.")
    ]
    runs: Annotated[
        tuple[LengthRun, ...],
        Meta(description="The range divided into runs, ascending; the first `max_runs` of them."),
    ]
    run_count: Annotated[int, Meta(ge=1, description="How many runs there are.")]
    gaps: Annotated[
        tuple[LengthGap, ...],
        Meta(description="The runs that cannot be built, the largest first; `max_gaps` of them."),
    ]
    gap_count: Annotated[int, Meta(ge=0, description="How many gaps there are.")]


class BlockLoss(Struct, frozen=True, kw_only=True):
    """What would be lost without a block."""

    id: Annotated[str, Meta(description="The block.")]
    lengths_lost: Annotated[
        int, Meta(ge=0, description="Number of lengths that could not be built without it.")
    ]
    lengths_with_more_blocks: Annotated[
        int, Meta(ge=0, description="Number of lengths that would need more blocks without it.")
    ]


class BlockAddition(Struct, frozen=True, kw_only=True):
    """What one or two more blocks would add."""

    blocks: Annotated[tuple[BlockToAdd, ...], Meta(description="The blocks.")]
    lengths_gained: Annotated[
        int, Meta(ge=1, description="Number of lengths that could then be built and cannot now.")
    ]
    lengths_with_fewer_blocks: Annotated[
        int, Meta(ge=0, description="Number of lengths that would then need fewer blocks than now.")
    ]


class BestAdditions(Struct, frozen=True, kw_only=True):
    """The offered blocks that would make the most lengths buildable; of equals, the shortest."""

    blocks_compared: Annotated[int, Meta(ge=0, description="How many blocks were compared.")]
    single_blocks: Annotated[
        tuple[BlockAddition, ...],
        Meta(description="The best single blocks, ten at most, proven; empty if none helps."),
    ]
    best_pair: Annotated[
        BlockAddition | None,
        Meta(
            description="The best two together; null if no pair does more than the best "
            "single block."
        ),
    ]
    best_pair_proven: Annotated[
        bool,
        Meta(
            description="Whether every pair was compared or ruled out; false if the time ran "
            "out first."
        ),
    ]


class CoverageAnswer(Struct, frozen=True, kw_only=True):
    """Which lengths the blocks on the shelf can build."""

    unit: Annotated[
        Unit, Meta(description="Unit of the lengths, except for blocks that state their own.")
    ]
    outcome: Annotated[
        Surveyed,
        Meta(
            description="`complete`: everything is settled. `partial`: the time ran out before "
            "everything was settled; what the answer contains is correct. "
            "`unknown`: the time ran out before anything was settled."
        ),
    ]
    range: Annotated[CoveredRange, Meta(description="The lengths considered.")]
    max_blocks: Annotated[int, Meta(ge=1, description="Maximum number of blocks in a stack.")]
    buildable: Annotated[
        BuildableLengths | None, Meta(description="What can be built; null if the time ran out.")
    ]
    losses: Annotated[
        tuple[BlockLoss, ...] | None,
        Meta(
            description="What would be lost without each usable block, the greatest loss "
            "first; null if the time ran out. Each block is removed by itself, so "
            "of two equal blocks neither may count as a loss."
        ),
    ]
    additions: Annotated[
        BestAdditions | None,
        Meta(description="Which blocks would help most; null if the time ran out."),
    ]
    overdue_blocks: Annotated[
        tuple[OverdueBlock, ...], Meta(description="Blocks left out because they are overdue.")
    ]
    used_on: Annotated[
        date | None,
        Meta(description="Day of use assumed; null where no block has dates."),
    ]
    picture: Annotated[
        str | None,
        Meta(
            description="The drawing, an SVG document; null if not requested or the time ran out."
        ),
    ]
    solve_ms: Annotated[float, Meta(ge=0, description="Time taken, ms.")]
    waited_ms: WaitedMs
