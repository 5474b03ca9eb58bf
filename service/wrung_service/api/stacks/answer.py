"""The answer of ``POST /v1/stacks`` as it stands on the wire."""

from datetime import date, datetime
from typing import TYPE_CHECKING, Annotated, TypeAlias

from msgspec import UNSET, Meta, Struct, UnsetType

from wrung.answers import Objective, Outcome, Restriction, ShortageCause, UnmetReason
from wrung.blocks import Role
from wrung.handwork.step import Phase
from wrung.lengths import SmallUnit, Unit
from wrung.measures import TemperatureUnit
from wrung_service.api.kinds.found import result_kinds
from wrung_service.api.metrology.measures import ComparedErrors
from wrung_service.api.metrology.overdue import OverdueBlock
from wrung_service.api.records.shape import StackRecord
from wrung_service.api.stacks.angle_cases import AngleCaseReport
from wrung_service.api.stacks.built import BuiltStack, ServedCount, StackOfTarget
from wrung_service.api.stacks.choices import PlanTradeOff, StackAlternatives
from wrung_service.api.texts import ROLE, DecimalText, WaitedMs
from wrung_service.api.words import Said


class NearestLength(Struct, frozen=True, kw_only=True):
    """A length that can be built."""

    length: Annotated[DecimalText, Meta(description="The length.")]
    blocks: Annotated[tuple[str, ...], Meta(description="Ids of blocks that build it.")]


class UnmetRemedy(Struct, frozen=True, kw_only=True):
    """What of the request stands in the way, with a stack that could be built without it."""

    lifted: Annotated[
        tuple[Restriction, ...],
        Meta(
            description="What would have to be given up, all of it together: `overdue`, leaving "
            "out overdue blocks; `exclude` or `only`, the member of the request; `max_blocks` or "
            "`wear_blocks`, those of the target; `required_ratio`, that the ratio is enforced."
        ),
    ]
    detail: Annotated[str, Meta(description="The same as a sentence.")]
    blocks: Annotated[tuple[str, ...], Meta(description="Ids of the blocks of that stack.")]


class UnmetStack(Struct, frozen=True, kw_only=True):
    """A stack that could not be had, and why."""

    target: Annotated[str, Meta(description="The target's `ref`, as sent.")]
    role: Annotated[str | None, Meta(description=ROLE)]
    reason: Annotated[
        UnmetReason,
        Meta(
            description="`cannot_be_built`: not even with every block free that may be used, or "
            "none that keeps the ratio that it is planned with. `blocks_in_use`: alone, but not "
            "beside the other stacks. `not_decided`: the search ended before."
        ),
    ]
    detail: Annotated[str, Meta(description="The reason as a sentence.")]
    remedies: Annotated[
        tuple[UnmetRemedy, ...],
        Meta(
            description="The least of the request that would have to be given up to build it, "
            "every such choice; empty where that does not help. For `blocks_in_use`, to build it "
            "beside the other stacks."
        ),
    ]
    nearest_below: Annotated[
        NearestLength | None,
        Meta(
            description="Longest buildable length below the target. For `blocks_in_use`, built "
            "from the blocks that this answer leaves free while the target is "
            "needed. Null for angle blocks, whose nearest angles are in `results`."
        ),
    ]
    nearest_above: Annotated[
        NearestLength | None, Meta(description="Shortest length above it, likewise.")
    ]
    rounded_to: (
        Annotated[
            DecimalText,
            Meta(
                description="For a target that takes `rounded_to` and states none: a step with "
                "which each of its stacks can be built by itself."
            ),
        ]
        | UnsetType
    ) = UNSET


class BlockToAdd(Struct, frozen=True, kw_only=True):
    """A block that would help."""

    nominal: Annotated[DecimalText, Meta(description="Its nominal length, in `unit`.")]
    unit: Annotated[Unit, Meta(description="Unit it is marked in.")]
    role: Annotated[Role, Meta(description="Gauge block or wear block.")]
    compositions: Annotated[
        tuple[str, ...],
        Meta(
            description="Ids of the compositions that have such a block, see "
            "`/v1/compositions`; empty if none has."
        ),
    ]
    max_error: (
        Annotated[
            DecimalText,
            Meta(
                description="Only where `enforce_required_ratio` limits the stack: the largest "
                "error the block may have, small unit. By the worst case this is its expanded "
                "uncertainty or limit deviation, plus the size of its deviation if not "
                "`corrected`. By variances it is its expanded uncertainty, k = 2, with drift and "
                "variation in length, and with the deviation as one more standard uncertainty if "
                "not `corrected`."
            ),
        ]
        | UnsetType
    ) = UNSET


class ShortageReport(Struct, frozen=True, kw_only=True):
    """Why not every target can be served."""

    cause: Annotated[
        ShortageCause,
        Meta(
            description="`wanted_at_once`: each target, or all of one `setup`, can be served by "
            "itself (proven); only that they are wanted at one time stands in the way, so that "
            "`timing` `in_turn`, or times of their own, would help. `restricted`: some cannot, but "
            "each of them could if the request allowed more, see `remedies`. `blocks_missing`: "
            "some cannot be served even with all blocks that may be used (proven). `undecided`: "
            "the search ended first."
        ),
    ]
    conflict: Annotated[
        tuple[StackOfTarget, ...],
        Meta(description="Stacks that cannot stand together; empty if not found."),
    ]
    contended_from: Annotated[
        datetime | None,
        Meta(
            description="Start of the time in which all of them are needed. Null without a start, "
            "and, like the end, where they are not all needed at one time."
        ),
    ]
    contended_until: Annotated[datetime | None, Meta(description="Its end, likewise.")]
    smallest_conflict_proven: Annotated[
        bool, Meta(description="Whether it is proven that no smaller set of stacks conflicts.")
    ]
    blocks_to_add: Annotated[
        tuple[BlockToAdd, ...],
        Meta(
            description="Blocks that together would let every target be served, each of them a "
            "member of some composition; empty if none were found. See then `nearest_below` and "
            "`nearest_above`."
        ),
    ]


class ProvenBounds(Struct, frozen=True, kw_only=True):
    """What is proven about every plan; null where nothing is known."""

    served: Annotated[
        ServedCount,
        Meta(description="No plan has more stacks, and none serves more targets whole."),
    ]
    total_blocks: Annotated[
        int | None, Meta(description="No plan that serves as many has fewer blocks.")
    ]
    largest_worst_case_error: Annotated[
        DecimalText | None, Meta(description="Likewise for the largest error, small unit.")
    ]
    total_worst_case_error: Annotated[
        DecimalText | None, Meta(description="Likewise for the total of the errors, small unit.")
    ]


class SearchDiagnostics(Struct, frozen=True, kw_only=True):
    """How the answer was found; for information only."""

    engine: Annotated[
        str | None, Meta(description="The search that found it; null where none was needed.")
    ]


class ChangesOfBlocks(Struct, frozen=True, kw_only=True):
    """The blocks changed between stacks that follow one another."""

    block_changes: Annotated[
        int,
        Meta(
            ge=0,
            description="Total number of blocks taken off or put on from one stack to the next.",
        ),
    ]
    lower_bound: Annotated[
        int,
        Meta(
            ge=0, description="No equally good plan for the same targets has fewer block changes."
        ),
    ]
    proven: Annotated[
        bool,
        Meta(description="Whether the bound is reached: no equally good plan has fewer changes."),
    ]


class HandworkStep(Struct, frozen=True, kw_only=True):
    """One step of the work."""

    phase: Annotated[Phase, Meta(description="What part of the work it belongs to.")]
    key: Annotated[str, Meta(description="Identifies the step; the same in every language.")]
    text: Annotated[str, Meta(description="What to do, in the language of the request.")]
    blocks: Annotated[tuple[str, ...], Meta(description="Ids of the blocks it concerns.")]


class StackHandwork(Struct, frozen=True, kw_only=True):
    """Instructions for one stack at the bench."""

    target: Annotated[str, Meta(description="The target's `ref`, as sent.")]
    role: Annotated[str | None, Meta(description=ROLE)]
    cautions: Annotated[
        tuple[Said, ...],
        Meta(
            description="Cautions, those for this use first. Of stacks that follow one another "
            "only the first has them."
        ),
    ]
    steps: Annotated[tuple[HandworkStep, ...], Meta(description="What to do, in order.")]
    waiting_minutes: Annotated[
        int,
        Meta(
            ge=0,
            description="How long blocks and stack lie until they have the temperature of the "
            "work, in all; a rule of thumb. 0 for a stack that follows another, as its blocks lay "
            "with those of the first.",
        ),
    ]


# Made from the library's kinds while the program runs, where no type checker can follow.
if TYPE_CHECKING:
    AnyResult: TypeAlias = Struct
else:
    AnyResult = result_kinds()


class StackAnswer(Struct, frozen=True, kw_only=True):
    """The plan: which blocks to wring together for each target."""

    unit: Annotated[Unit, Meta(description="Unit of the lengths.")]
    small_unit: Annotated[SmallUnit, Meta(description="Unit of deviations and errors.")]
    temperature_unit: Annotated[
        TemperatureUnit, Meta(description="Unit of temperatures, as in the request.")
    ]
    outcome: Annotated[
        Outcome,
        Meta(
            description="`optimal`: every target is served, proven best. `feasible`: every "
            "target is served, but the plan was not proven best in time. "
            "`partial`: only some targets are served. `infeasible`: none can be "
            "served. `unknown`: the time ran out first. Covers all targets, "
            "including those of angle blocks."
        ),
    ]
    proven: Annotated[
        bool,
        Meta(
            description="For a partial answer, whether it is proven that no plan serves more "
            "targets; for any other, whether the outcome itself is proven."
        ),
    ]
    objective_proven: Annotated[
        bool, Meta(description="No plan that serves as many stacks is better by the objective.")
    ]
    objective: Annotated[Objective, Meta(description="The objective of the request.")]
    served: Annotated[
        ServedCount,
        Meta(
            description="How many stacks there are, and how many targets have all of theirs. As "
            "many stacks as possible come before the objective. Targets of angle blocks are "
            "counted in `angle_cases`."
        ),
    ]
    total_blocks: Annotated[
        int,
        Meta(
            ge=0,
            description="Total over all stacks. Totals, errors and bounds are about blocks of "
            "length; for angle blocks see `angle_cases`.",
        ),
    ]
    largest_worst_case_error: Annotated[
        DecimalText,
        Meta(description="The largest of any stack, in the small unit; 0 without stacks."),
    ]
    total_worst_case_error: Annotated[
        DecimalText, Meta(description="Over all stacks, in the small unit.")
    ]
    bounds: Annotated[
        ProvenBounds,
        Meta(
            description="What is proven about every plan; where a "
            "total is proven best, its bound equals "
            "it."
        ),
    ]
    stacks: Annotated[
        tuple[BuiltStack, ...],
        Meta(description="One for each target served, in the order of the targets."),
    ]
    # Left out, not null, as are others below: whoever does not ask has a short answer.
    results: (
        Annotated[
            tuple[AnyResult, ...],
            Meta(
                description="For each target that is not a plain length, in order: its result "
                "in the terms of the trade. Left out if there is none."
            ),
        ]
        | UnsetType
    ) = UNSET
    angle_cases: (
        Annotated[
            tuple[AngleCaseReport, ...],
            Meta(
                description="Where targets need angle blocks, the plan for each case and what "
                "is proven about it."
            ),
        ]
        | UnsetType
    ) = UNSET
    handwork: (
        Annotated[
            tuple[StackHandwork, ...],
            Meta(
                description="Instructions for each stack in turn, then for targets of angle "
                "blocks, if requested."
            ),
        ]
        | UnsetType
    ) = UNSET
    remarks: (
        Annotated[
            tuple[Said, ...],
            Meta(
                description="What to know of the figures that the errors of these stacks rest on. "
                "Left out if there is nothing."
            ),
        ]
        | UnsetType
    ) = UNSET
    unmet: Annotated[tuple[UnmetStack, ...], Meta(description="The stacks that could not be had.")]
    shortage: Annotated[
        ShortageReport | None,
        Meta(
            description="Why not every target has a stack, and which "
            "blocks would help; null if blocks are not the "
            "reason."
        ),
    ]
    compared_errors: (
        Annotated[
            ComparedErrors,
            Meta(
                description="The errors that plans were compared by, if the request names a "
                "measure other than the worst-case error. The objective and its "
                "proof are then about these figures, and `bounds` has none for the "
                "worst-case errors."
            ),
        ]
        | UnsetType
    ) = UNSET
    alternatives: (
        Annotated[
            StackAlternatives,
            Meta(description="The next best stacks, if requested."),
        ]
        | UnsetType
    ) = UNSET
    trade_off: (
        Annotated[
            PlanTradeOff,
            Meta(description="The number of blocks against the largest error, if requested."),
        ]
        | UnsetType
    ) = UNSET
    changes: (
        Annotated[
            ChangesOfBlocks,
            Meta(
                description="The blocks changed between stacks that follow one another, as for "
                "check points. To change as few as possible is the last goal, "
                "after everything in the objective."
            ),
        ]
        | UnsetType
    ) = UNSET
    used_on: (
        Annotated[
            date,
            Meta(description="Day of use assumed, where a block has a calibration."),
        ]
        | UnsetType
    ) = UNSET
    overdue_blocks: (
        Annotated[
            tuple[OverdueBlock, ...],
            Meta(description="Blocks left out because they are overdue on that day."),
        ]
        | UnsetType
    ) = UNSET
    record: (
        Annotated[
            StackRecord,
            Meta(description="To be kept with the job, if the request wants it."),
        ]
        | UnsetType
    ) = UNSET
    solve_ms: Annotated[float, Meta(ge=0, description="Time taken by the search for `stacks`, ms.")]
    waited_ms: WaitedMs
    diagnostics: Annotated[SearchDiagnostics, Meta(description="How the plan was found.")]
