"""What a plan is asked for by, and what is done with it later."""

from typing import Annotated, Literal, TypeAlias

from msgspec import Meta, Struct
from msgspec.structs import fields

from wrung.targets.base import Priority
from wrung_service.api.crib.request import CribOnRequest
from wrung_service.api.stacks.request import StackRequest
from wrung_service.api.texts import BlockId, Reason

_MOST_MINUTES = 100_000

EndState: TypeAlias = Literal["done", "cancelled"]


class PlanRequest(StackRequest, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A request for stacks from a crib, whose blocks are promised to a job for the time of need.

    The time of need is that of `crib`, or of each target that states its own.
    """

    # Here it must be there.
    crib: Annotated[  # pyright: ignore[reportGeneralTypeIssues]
        CribOnRequest, Meta(description="The site, and the time of need.")
    ]
    job: Annotated[BlockId, Meta(description="The job that the stacks are for.")]
    operation: Annotated[BlockId, Meta(description="The operation of the job.")] | None = None
    priority: (
        Annotated[
            Priority,
            Meta(description="How urgent the job is: 1 is the most urgent, no priority the least."),
        ]
        | None
    ) = None
    pause_minutes: Annotated[
        int,
        Meta(
            ge=0,
            le=_MOST_MINUTES,
            description="How long each block rests after its use before it may be used again, to "
            "be cleaned and to soak. It is promised for that time, too. Targets with times of "
            "their own are uses of their own, with the pause between them; stacks in turn share "
            "one time, which is one use: the pause comes when it is over, not between the steps.",
        ),
    ] = 0
    expires_after_minutes: (
        Annotated[
            int,
            Meta(
                ge=0,
                le=_MOST_MINUTES,
                description="How long after the start of the need the plan expires if none of its "
                "blocks was issued; at the end of the need if left out.",
            ),
        ]
        | None
    ) = None
    partial: Annotated[
        bool,
        Meta(
            description="Whether to keep a plan that has a stack for some targets only. One "
            "without any stack is not kept: it would promise nothing."
        ),
    ] = False
    displace: Annotated[
        bool,
        Meta(
            description="Whether less urgent plans give way, where the blocks that are free do not "
            "do: their stacks are planned anew from what is left. `POST /v1/plan-previews` says "
            "before which plans would change."
        ),
    ] = False
    leave_without: Annotated[
        bool,
        Meta(
            description="With `displace`: whether a plan may give way, too, whose stack cannot be "
            "planned anew. It is at risk then, until it is planned anew."
        ),
    ] = False

    def stacks(self) -> StackRequest:
        """The part of it that is a request for stacks."""
        return StackRequest(
            **{each.name: getattr(self, each.name) for each in fields(StackRequest)}
        )


class PlanEnd(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """How a plan ends; its blocks are free from then on."""

    state: Annotated[
        EndState, Meta(description="`done`: it was used. `cancelled`: it is not needed.")
    ]
    reason: Annotated[Reason, Meta(description="Why; it stands in the history.")] | None = None


class PlanAnew(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Which stacks of a plan are to be planned anew."""

    blocks: Annotated[
        tuple[BlockId, ...],
        Meta(
            max_length=1000,
            description="Blocks that failed. Those that are no longer fit for use count without "
            "being named.",
        ),
    ] = ()
    reason: Annotated[Reason, Meta(description="Why; it stands in the history.")] | None = None
    preview: Annotated[
        bool, Meta(description="Whether only to say what would change, and change nothing.")
    ] = False
