"""The answer of ``POST /v1/stacks`` as it stands on the wire."""

from datetime import date
from typing import TYPE_CHECKING, Annotated, TypeAlias

from msgspec import UNSET, Meta, Struct, UnsetType

from wrung.answers import Objective, Outcome
from wrung.handwork.step import Phase
from wrung.lengths import SmallUnit, Unit
from wrung.measures import TemperatureUnit
from wrung_service.api.kinds.found import result_kinds
from wrung_service.api.metrology.measures import ComparedErrors
from wrung_service.api.metrology.overdue import OverdueBlock
from wrung_service.api.records.shape import StackRecord
from wrung_service.api.stacks.angle_cases import AngleCaseReport
from wrung_service.api.stacks.built import BuiltStack, ServedCount
from wrung_service.api.stacks.choices import PlanTradeOff, StackAlternatives
from wrung_service.api.stacks.preferences import PreferenceOutcome
from wrung_service.api.stacks.priorities import ServedOfPriority
from wrung_service.api.stacks.unmet import ShortageReport, UnmetStack
from wrung_service.api.texts import ROLE, DecimalText, WaitedMs
from wrung_service.api.words import Said


class ProvenBounds(Struct, frozen=True, kw_only=True):
    """What is proven about every plan; null where nothing is known."""

    served: Annotated[
        ServedCount,
        Meta(
            description="No plan has more stacks, and none serves more targets whole; with "
            "priorities, no plan that serves as many of each more urgent priority as can be."
        ),
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
    by_priority: (
        Annotated[
            tuple[ServedOfPriority, ...],
            Meta(
                description="Where targets have a `priority`: each one, the most urgent first. "
                "Priorities of angle blocks are in `angle_cases`."
            ),
        ]
        | UnsetType
    ) = UNSET


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
    minutes: (
        Annotated[int, Meta(ge=1, description="How long they lie; left out where nothing waits.")]
        | UnsetType
    ) = UNSET


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
            "work, or their own where it differs, in all; a rule of thumb. 0 for a stack that "
            "follows another, as its blocks lay with those of the first.",
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
            "target is served, but the search ended before the plan was proven best. "
            "`partial`: only some targets are served. `infeasible`: none can be "
            "served. `unknown`: the search ended before anything was known. Covers all targets, "
            "including those of angle blocks. A search ends at its time limit, or earlier at its "
            "limit of effort, where it has nothing more to try."
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
            "many stacks as possible, priority by priority where targets have one, come before the "
            "objective. Targets of angle blocks are counted in `angle_cases`."
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
                description="What to know of the figures that the errors of these stacks rest on, "
                "temperatures that were probably given in another unit among it. Left out "
                "if there is nothing."
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
    preferences: (
        Annotated[
            tuple[PreferenceOutcome, ...],
            Meta(
                description="For each preference of the request, in its order, what the plan "
                "comes to and what is proven of it. Left out if there is none."
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
