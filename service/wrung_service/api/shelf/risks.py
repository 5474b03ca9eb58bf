"""Plans at risk, as whoever changes something is told of them."""

from collections.abc import Sequence
from typing import Annotated, Final

from msgspec import Meta, Struct

from wrung_service.api.texts import Moment
from wrung_service.store.risks import Risk

AT_RISK: Final = "Plans that cannot count on it any longer, each with the reason: plan them anew."


class PlanAtRisk(Struct, frozen=True, kw_only=True):
    """A plan that cannot count on a block, or not as it was told."""

    plan: Annotated[str, Meta(description="Its id.")]
    job: Annotated[str, Meta(description="Its job.")]
    operation: Annotated[str | None, Meta(description="Its operation, if it has one.")]
    starts_at: Annotated[Moment, Meta(description="When it is needed.")]
    block: Annotated[str, Meta(description="The block.")]
    reason: Annotated[
        str,
        Meta(
            description="Why not: the block's condition; `overdue`: its calibration runs out "
            "before the need; `moved`: it is in none of the sets that the plan asked for; "
            "`changed`: its figures, grade, material or role are not those that the plan rests "
            "on; `displaced`: a more urgent plan has it."
        ),
    ]
    noted_at: Annotated[Moment, Meta(description="Since when that is known.")]
    replan: Annotated[
        str,
        Meta(description="Where to plan it anew: POST; its blocks at risk need not be named."),
    ]


def write_risks(risks: Sequence[Risk], prefix: str) -> tuple[PlanAtRisk, ...]:
    """Plans at risk as they stand on the wire."""
    return tuple(
        PlanAtRisk(
            plan=risk.plan,
            job=risk.job,
            operation=risk.operation,
            starts_at=risk.starts_at,
            block=risk.block,
            reason=risk.reason,
            noted_at=risk.noted_at,
            replan=f"{prefix}/v1/plans/{risk.plan}/replan",
        )
        for risk in risks
    )
