"""The answer of ``POST /v1/stacks`` as it stands on the wire."""

from datetime import date
from typing import TYPE_CHECKING, Annotated, TypeAlias

from msgspec import UNSET, Meta, Struct, UnsetType

from wrung.answers import Objective, Outcome, UnmetReason
from wrung.blocks import Role
from wrung.handwork.steps import Phase
from wrung.lengths import SmallUnit, Unit
from wrung_service.api.kinds.found import Said, result_kinds
from wrung_service.api.metrology.measures import ComparedErrors
from wrung_service.api.metrology.overdue import OverdueBlock
from wrung_service.api.stacks.angle_cases import AngleCaseReport
from wrung_service.api.stacks.built import BuiltStack, ServedCount, StackOfTarget
from wrung_service.api.stacks.choices import PlanTradeOff, StackAlternatives
from wrung_service.api.texts import ROLE, DecimalText, WaitedMs


class NearestLength(Struct, frozen=True, kw_only=True):
    """A length that can be built."""

    length: Annotated[DecimalText, Meta(description="The length.")]
    blocks: Annotated[tuple[str, ...], Meta(description="Ids of blocks that build it.")]


class UnmetStack(Struct, frozen=True, kw_only=True):
    """A stack that could not be had, and why."""

    target: Annotated[str, Meta(description="The target's `ref`, as sent.")]
    role: Annotated[str | None, Meta(description=ROLE)]
    reason: Annotated[
        UnmetReason,
        Meta(
            description="`cannot_be_built`: not even with every block free, or none that keeps "
            "the ratio that it is planned with. `blocks_in_use`: alone, but not "
            "beside the other stacks. `not_decided`: the time ran out."
        ),
    ]
    detail: Annotated[str, Meta(description="The reason as a sentence.")]
    nearest_below: Annotated[
        NearestLength | None,
        Meta(
            description="Longest length below the target that can be built. For `blocks_in_use`, "
            "from the blocks that this answer leaves free while the target is needed. Null for "
            "angle blocks, whose nearest angles are in `results`."
        ),
    ]
    nearest_above: Annotated[
        NearestLength | None, Meta(description="Shortest length above it, likewise.")
    ]


class BlockToAdd(Struct, frozen=True, kw_only=True):
    """A block that would help."""

    nominal: Annotated[DecimalText, Meta(description="Its nominal length, in `unit`.")]
    unit: Annotated[Unit, Meta(description="Unit it is marked in.")]
    role: Annotated[Role, Meta(description="Gauge block or wear block.")]
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

    conflict: Annotated[
        tuple[StackOfTarget, ...], Meta(description="Stacks that cannot stand together.")
    ]
    smallest_conflict_proven: Annotated[
        bool, Meta(description="Whether it is proven that no smaller set of stacks conflicts.")
    ]
    blocks_to_add: Annotated[
        tuple[BlockToAdd, ...],
        Meta(description="Blocks that together let every target be served; empty if not found."),
    ]


class ProvenBounds(Struct, frozen=True, kw_only=True):
    """What is proven of every plan; null where nothing is known."""

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
    """How the answer was found; nothing in it changes what the answer means."""

    engine: Annotated[
        str | None, Meta(description="What found it; null where no search was needed.")
    ]


class ChangesOfBlocks(Struct, frozen=True, kw_only=True):
    """What changes between stacks that follow one another."""

    block_changes: Annotated[
        int,
        Meta(ge=0, description="Blocks that come off or go on from one stack to the next, in all."),
    ]
    lower_bound: Annotated[
        int, Meta(ge=0, description="No plan with the same targets that is as good changes fewer.")
    ]
    proven: Annotated[bool, Meta(description="Whether that bound is met.")]


class HandworkStep(Struct, frozen=True, kw_only=True):
    """One thing to do."""

    phase: Annotated[Phase, Meta(description="What part of the work it belongs to.")]
    key: Annotated[str, Meta(description="Names the step, in every language the same.")]
    text: Annotated[str, Meta(description="What to do, in the language of the request.")]
    blocks: Annotated[tuple[str, ...], Meta(description="Ids of the blocks in hand for it.")]


class StackHandwork(Struct, frozen=True, kw_only=True):
    """What goes with one stack to the bench."""

    target: Annotated[str, Meta(description="The target's `ref`, as sent.")]
    role: Annotated[str | None, Meta(description=ROLE)]
    cautions: Annotated[
        tuple[Said, ...], Meta(description="What to beware of, the use's own first.")
    ]
    steps: Annotated[tuple[HandworkStep, ...], Meta(description="What to do, in order.")]


# Made from the library's kinds while the program runs, where no type checker can follow.
if TYPE_CHECKING:
    AnyResult: TypeAlias = Struct
else:
    AnyResult = result_kinds()


class StackAnswer(Struct, frozen=True, kw_only=True):
    """The plan: which blocks to wring together for each target."""

    unit: Annotated[Unit, Meta(description="Unit of the lengths.")]
    small_unit: Annotated[SmallUnit, Meta(description="Unit of deviations and errors.")]
    outcome: Annotated[
        Outcome,
        Meta(
            description="`optimal`: every target served, proven best. `feasible`: every target "
            "served, not proven best in the time. `partial`: some targets cannot be served "
            "together. `infeasible`: none can be served. `unknown`: the time limit ended first. "
            "It is about all targets, those of angle blocks as well."
        ),
    ]
    proven: Annotated[
        bool,
        Meta(
            description="Of a partial answer, that no plan serves more targets; of any other, "
            "that the outcome itself is proven."
        ),
    ]
    objective_proven: Annotated[
        bool, Meta(description="No plan that serves as many stacks is better by the objective.")
    ]
    objective: Annotated[Objective, Meta(description="What was asked for.")]
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
            description="Over all stacks. This and the errors and bounds are about blocks of "
            "length; for angle blocks see `angle_cases`.",
        ),
    ]
    largest_worst_case_error: Annotated[
        DecimalText, Meta(description="Of any stack, in the small unit; 0 without stacks.")
    ]
    total_worst_case_error: Annotated[
        DecimalText, Meta(description="Over all stacks, in the small unit.")
    ]
    bounds: Annotated[ProvenBounds, Meta(description="Equal to the totals compared, where proven.")]
    stacks: Annotated[
        tuple[BuiltStack, ...],
        Meta(description="One for each target served, in the order of the targets."),
    ]
    # Left out, not null, as are others below: whoever does not ask has a short answer.
    results: (
        Annotated[
            tuple[AnyResult, ...],
            Meta(
                description="For each target that is no plain length, in their order: what its "
                "stacks come to in the terms of its trade. Left out if there is none."
            ),
        ]
        | UnsetType
    ) = UNSET
    angle_cases: (
        Annotated[
            tuple[AngleCaseReport, ...],
            Meta(
                description="Where targets ask for angle blocks, what is proven of the plan for "
                "each case."
            ),
        ]
        | UnsetType
    ) = UNSET
    handwork: (
        Annotated[
            tuple[StackHandwork, ...],
            Meta(
                description="Instructions for each stack in turn, then for targets of angle "
                "blocks, if the request wants them."
            ),
        ]
        | UnsetType
    ) = UNSET
    unmet: Annotated[tuple[UnmetStack, ...], Meta(description="The stacks that could not be had.")]
    shortage: Annotated[
        ShortageReport | None, Meta(description="Why, where targets want for blocks.")
    ]
    compared_errors: (
        Annotated[
            ComparedErrors,
            Meta(
                description="What errors were compared by, if the request names a measure other "
                "than the worst-case error: the objective and its proof are about these figures, "
                "and `bounds` has none for the worst-case errors."
            ),
        ]
        | UnsetType
    ) = UNSET
    alternatives: (
        Annotated[
            StackAlternatives,
            Meta(description="The next best stacks, if the request wants any."),
        ]
        | UnsetType
    ) = UNSET
    trade_off: (
        Annotated[
            PlanTradeOff,
            Meta(description="Blocks against the largest error, if the request wants it."),
        ]
        | UnsetType
    ) = UNSET
    changes: (
        Annotated[
            ChangesOfBlocks,
            Meta(
                description="Where stacks follow one another, as check points do: the least "
                "change of blocks is the last goal, after every value of the objective."
            ),
        ]
        | UnsetType
    ) = UNSET
    used_on: (
        Annotated[
            date,
            Meta(description="Day of use that was reckoned with, where a block has a calibration."),
        ]
        | UnsetType
    ) = UNSET
    overdue_blocks: (
        Annotated[
            tuple[OverdueBlock, ...],
            Meta(description="Blocks not used because they are overdue on that day."),
        ]
        | UnsetType
    ) = UNSET
    solve_ms: Annotated[float, Meta(ge=0, description="Time of the search for `stacks`, ms.")]
    waited_ms: WaitedMs
    diagnostics: Annotated[SearchDiagnostics, Meta(description="How it was found.")]
