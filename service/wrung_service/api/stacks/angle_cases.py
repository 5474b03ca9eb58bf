"""What is proven of the plans for angle blocks, and why some targets have none, on the wire."""

from collections.abc import Sequence
from typing import Annotated, Final

from msgspec import UNSET, Meta, Struct, UnsetType

from wrung.angles import to_seconds
from wrung.answers import Bounds, CasePlan, Outcome, UnmetReason
from wrung.targets import Requirement, Target
from wrung.targets.angle_cases import AngleCase, angle_cases
from wrung.texts import Phrase, phrase
from wrung_service.api.stacks.built import ServedCount, StackOfTarget, name_stack
from wrung_service.api.stacks.priorities import ServedOfPriority, write_priorities
from wrung_service.api.texts import DecimalText

ANGLE_REASONS: Final[dict[UnmetReason, Phrase]] = {
    "cannot_be_built": phrase("unmet.angle_cannot_be_built"),
    "blocks_in_use": phrase("unmet.angle_blocks_in_use"),
    "not_decided": phrase("unmet.not_decided"),
}
"""Why a target of angle blocks has none."""


class AngleBounds(Struct, frozen=True, kw_only=True):
    """What is proven about every plan for the case; null where nothing is known."""

    served: Annotated[
        ServedCount, Meta(description="No plan serves more targets; each takes one stack.")
    ]
    total_blocks: Annotated[
        int | None, Meta(description="No plan that serves as many has fewer blocks.")
    ]
    largest_worst_case_error: Annotated[
        DecimalText | None, Meta(description="Likewise for the largest error, seconds.")
    ]
    total_worst_case_error: Annotated[
        DecimalText | None, Meta(description="Likewise for the total of the errors, seconds.")
    ]
    by_priority: (
        Annotated[
            tuple[ServedOfPriority, ...],
            Meta(description="Where targets of the case have a `priority`: as in the answer."),
        ]
        | UnsetType
    ) = UNSET


class AngleCaseReport(Struct, frozen=True, kw_only=True):
    """The plan for one case of angle blocks; `results` says which blocks are for which target.

    Its members mean the same as those of the answer, for the targets that name the case.
    """

    case: Annotated[str, Meta(description="The case's name.")]
    outcome: Annotated[Outcome, Meta(description="Of the targets that name the case.")]
    proven: Annotated[bool, Meta(description="As in the answer.")]
    objective_proven: Annotated[
        bool, Meta(description="No plan that serves as many targets is better by the objective.")
    ]
    served: Annotated[ServedCount, Meta(description="Targets with blocks; each takes one stack.")]
    total_blocks: Annotated[int, Meta(ge=0, description="Over all targets served.")]
    largest_worst_case_error: Annotated[
        DecimalText, Meta(description="Of any target, in seconds; 0 if none is served.")
    ]
    total_worst_case_error: Annotated[
        DecimalText, Meta(description="Over all targets served, in seconds.")
    ]
    bounds: Annotated[AngleBounds, Meta(description="Equal to the totals, where proven.")]
    conflict: Annotated[
        tuple[StackOfTarget, ...],
        Meta(
            description="Targets that cannot all be served at once; empty if no such set was "
            "proven."
        ),
    ]


def write_case(planned: CasePlan, targets: Sequence[Target]) -> AngleCaseReport:
    """The plan for a case as it stands on the wire."""
    wanted = [r for c in angle_cases(targets) if c.name == planned.case for r in _wanted(c)]
    plan = planned.plan
    return AngleCaseReport(
        case=planned.case,
        outcome=plan.outcome,
        proven=plan.proven,
        objective_proven=plan.objective_proven,
        served=_served(len(plan.stacks)),
        total_blocks=plan.total_blocks,
        largest_worst_case_error=to_seconds(plan.largest_worst_case_error),
        total_worst_case_error=to_seconds(plan.total_worst_case_error),
        bounds=_bounds(plan.bounds, write_priorities(wanted, plan)),
        conflict=tuple(map(name_stack, plan.shortage.conflict)) if plan.shortage else (),
    )


def _served(targets: int) -> ServedCount:
    return ServedCount(stacks=targets, targets=targets)


def _wanted(case: AngleCase) -> list[Requirement]:
    return [target.angle_requirement() for target in case.targets]


def _bounds(bounds: Bounds, by_priority: tuple[ServedOfPriority, ...] | UnsetType) -> AngleBounds:
    largest, total = bounds.largest_worst_case_error, bounds.total_worst_case_error
    return AngleBounds(
        served=_served(bounds.served),
        total_blocks=bounds.total_blocks,
        largest_worst_case_error=None if largest is None else to_seconds(largest),
        total_worst_case_error=None if total is None else to_seconds(total),
        by_priority=by_priority,
    )
