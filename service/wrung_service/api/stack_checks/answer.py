"""The answer of ``POST /v1/stack-checks`` as it stands on the wire."""

from datetime import date
from typing import Annotated

from msgspec import Meta, Struct

from wrung.lengths import SmallUnit, Unit
from wrung.measures import TemperatureUnit
from wrung.metrology.stack_check import Gain
from wrung_service.api.metrology.budgets import StackBudget
from wrung_service.api.metrology.decisions import StackDecision
from wrung_service.api.metrology.overdue import OverdueBlock
from wrung_service.api.stacks.built import WRINGING_ORDER, BlockInStack
from wrung_service.api.texts import DecimalText, WaitedMs
from wrung_service.api.words import Said


class ExpectedReading(Struct, frozen=True, kw_only=True):
    """What an instrument should show on the stack."""

    instrument: Annotated[str, Meta(description="Its name.")]
    reading: Annotated[DecimalText, Meta(description="The reading nearest to the length.")]
    lowest: Annotated[DecimalText, Meta(description="Lowest reading that agrees with the stack.")]
    highest: Annotated[DecimalText, Meta(description="Highest one.")]


class BetterStack(Struct, frozen=True, kw_only=True):
    """A stack from the same shelf that is better in some way."""

    improvements: Annotated[
        tuple[Gain, ...],
        Meta(
            description="How it is better: the correct length, only usable blocks, fewer "
            "blocks, a smaller worst-case error. A stack of fewer blocks may have "
            "a larger error, and the other way round."
        ),
    ]
    blocks: Annotated[tuple[BlockInStack, ...], Meta(description=WRINGING_ORDER)]
    nominal: Annotated[DecimalText, Meta(description="Sum of the nominal lengths.")]
    deviation: Annotated[DecimalText, Meta(description="Of the certified deviations, small unit.")]
    worst_case_error: Annotated[DecimalText, Meta(description="As in `POST /v1/stacks`.")]


class StackCheckAnswer(Struct, frozen=True, kw_only=True):
    """The check of a stack built by hand."""

    unit: Annotated[Unit, Meta(description="Unit of the lengths.")]
    small_unit: Annotated[SmallUnit, Meta(description="Unit of deviations and errors.")]
    temperature_unit: Annotated[
        TemperatureUnit, Meta(description="Unit of temperatures, as in the request.")
    ]
    passed: Annotated[
        bool,
        Meta(description="Whether it has the wanted length and nothing is wrong with its blocks."),
    ]
    length: Annotated[DecimalText, Meta(description="The wanted length.")]
    nominal: Annotated[DecimalText, Meta(description="Sum of the nominal lengths.")]
    nominal_error: Annotated[
        DecimalText,
        Meta(
            description="`nominal` less the wanted length; if it is not 0, a wrong block was taken."
        ),
    ]
    blocks: Annotated[tuple[BlockInStack, ...], Meta(description="Its blocks, base first.")]
    joints: Annotated[int, Meta(ge=0, description="Blocks in the stack less one.")]
    deviation: Annotated[DecimalText, Meta(description="Of the certified deviations, small unit.")]
    worst_case_error: Annotated[
        DecimalText, Meta(description="As in `POST /v1/stacks`, in the small unit.")
    ]
    duplicate_blocks: Annotated[tuple[str, ...], Meta(description="Blocks named more than once.")]
    misplaced_wear_blocks: Annotated[
        tuple[str, ...], Meta(description="Wear blocks that are not at an end.")
    ]
    misplaced_steps: Annotated[
        tuple[str, ...],
        Meta(
            description="Steps of step blocks that are between other blocks; all where there are "
            "several, as a stack has one at most."
        ),
    ]
    overdue_blocks: Annotated[
        tuple[OverdueBlock, ...], Meta(description="Its blocks that are overdue on the day of use.")
    ]
    used_on: Annotated[
        date | None,
        Meta(description="Day of use assumed; null where no block has dates."),
    ]
    remarks: Annotated[
        tuple[Said, ...],
        Meta(
            description="What to know before it is used: a worst-case error that is not small "
            "against the tolerance of the part, certified blocks that are outside their grade, and "
            "figures that are from memory."
        ),
    ]
    readings: Annotated[
        tuple[ExpectedReading, ...], Meta(description="What the instruments should read.")
    ]
    budget: Annotated[
        StackBudget | None, Meta(description="Its uncertainty budget; null if not requested.")
    ]
    decision: Annotated[
        StackDecision | None,
        Meta(description="Whether it is good enough for `part_limits`; null without them."),
    ]
    better_stacks: Annotated[
        tuple[BetterStack, ...],
        Meta(description="Better stacks of this length from the same shelf; empty if none."),
    ]
    better_stacks_proven: Annotated[
        bool,
        Meta(
            description="Whether it is proven that no stack has fewer blocks or a smaller error "
            "than these and the one checked; false if there was no search, or it ended first."
        ),
    ]
    waited_ms: WaitedMs
