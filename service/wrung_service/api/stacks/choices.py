"""What else could be built, on the wire: next best stacks, and blocks against error."""

from typing import Annotated

from msgspec import UNSET, Meta, Struct, UnsetType

from wrung_service.api.metrology.measures import ComparedErrors
from wrung_service.api.stacks.built import BuiltStack, StackOfTarget
from wrung_service.api.texts import DecimalText


class AlternativeStack(Struct, frozen=True, kw_only=True):
    """Another stack for the target."""

    rank: Annotated[
        int,
        Meta(
            ge=1,
            description="1 + how many stacks are better by the objective, that of `stacks` "
            "counted; stacks that are as good as one another have one rank.",
        ),
    ]
    proven: Annotated[
        bool,
        Meta(
            description="Whether that is proven: whatever is better is in this answer. If not, the "
            "rank may only be a higher number."
        ),
    ]
    total_blocks: Annotated[int, Meta(ge=1, description="Blocks in the stack.")]
    stack: Annotated[BuiltStack, Meta(description="Its blocks, base first, and its error.")]
    compared_errors: (
        Annotated[
            ComparedErrors,
            Meta(
                description="What it was compared by, if the request names another measure than "
                "the worst-case error; its bounds are null."
            ),
        ]
        | UnsetType
    ) = UNSET


class StackAlternatives(Struct, frozen=True, kw_only=True):
    """The next best stacks for the target, best first.

    No two stacks of an answer differ only in which of several interchangeable blocks they use:
    blocks of one nominal length and role that bring the same deviation and margin into what is
    compared. Wherever a block of a stack is out, such a block may take its place.
    """

    complete: Annotated[
        bool,
        Meta(
            description="Whether it is proven that there is no other stack. If not, and there are "
            "fewer than asked for, the time limit ended first."
        ),
    ]
    stacks: Annotated[tuple[AlternativeStack, ...], Meta(description="The stacks.")]


class TradeOffPlan(Struct, frozen=True, kw_only=True):
    """A plan that no other beats in both: fewer blocks need larger errors, and the reverse."""

    total_blocks: Annotated[int, Meta(ge=1, description="Over all its stacks.")]
    largest_worst_case_error: Annotated[
        DecimalText, Meta(description="Of any of its stacks, in the small unit.")
    ]
    total_worst_case_error: Annotated[
        DecimalText, Meta(description="Over all its stacks, in the small unit.")
    ]
    proven: Annotated[
        bool,
        Meta(
            description="Whether it is proven that no plan that serves as many targets has fewer "
            "blocks and no larger error, or a smaller largest error and no more blocks."
        ),
    ]
    stacks: Annotated[
        tuple[BuiltStack, ...],
        Meta(description="One for each target served, in the order of the targets."),
    ]
    unmet: Annotated[
        tuple[StackOfTarget, ...],
        Meta(description="Stacks that it has not; which these are may differ between plans."),
    ]
    compared_errors: (
        Annotated[
            ComparedErrors,
            Meta(
                description="What it was compared by, if the request names another measure than "
                "the worst-case error: the trade-off is then about its `largest`. Its bounds are "
                "null."
            ),
        ]
        | UnsetType
    ) = UNSET


class PlanTradeOff(Struct, frozen=True, kw_only=True):
    """How few blocks allow how small a largest error."""

    complete: Annotated[
        bool,
        Meta(
            description="Whether it is proven that these are all such plans, but for plans with "
            "the same two figures. If not, the time limit ended first."
        ),
    ]
    plans: Annotated[
        tuple[TradeOffPlan, ...],
        Meta(
            description="From the fewest blocks to the least error; blocks rise and errors fall "
            "from each to the next."
        ),
    ]
