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
            description="1 + the number of stacks that are better by the objective, including "
            "the one in `stacks`. Equally good stacks have the same rank.",
        ),
    ]
    proven: Annotated[
        bool,
        Meta(
            description="Whether the rank is proven: every better stack is in this answer. If "
            "not, the true rank may be a higher number."
        ),
    ]
    total_blocks: Annotated[int, Meta(ge=1, description="Blocks in the stack.")]
    stack: Annotated[BuiltStack, Meta(description="Its blocks, base first, and its error.")]
    compared_errors: (
        Annotated[
            ComparedErrors,
            Meta(
                description="The errors it was compared by, if the request names a measure "
                "other than the worst-case error; its bounds are null."
            ),
        ]
        | UnsetType
    ) = UNSET


class StackAlternatives(Struct, frozen=True, kw_only=True):
    """The next best stacks for the target, best first.

    No two stacks of an answer differ only in which of several interchangeable blocks they use:
    blocks of the same nominal length and role with the same deviation and margin, as far as these
    are compared. If a block of a stack is out, such a block may take its place.
    """

    complete: Annotated[
        bool,
        Meta(
            description="Whether it is proven that there are no other stacks. If false, and "
            "there are fewer than requested, the search ended first."
        ),
    ]
    stacks: Annotated[tuple[AlternativeStack, ...], Meta(description="The stacks.")]


class TradeOffPlan(Struct, frozen=True, kw_only=True):
    """A plan that no other plan beats.

    With fewer blocks the largest error is larger, and for a smaller one more blocks are needed.
    """

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
                description="The errors it was compared by, if the request names a measure "
                "other than the worst-case error; the trade-off is then about "
                "`largest`. The bounds are null."
            ),
        ]
        | UnsetType
    ) = UNSET


class PlanTradeOff(Struct, frozen=True, kw_only=True):
    """The number of blocks against the largest error."""

    complete: Annotated[
        bool,
        Meta(
            description="Whether it is proven that these are all such plans, apart from others "
            "with the same two figures. If false, the search ended first."
        ),
    ]
    plans: Annotated[
        tuple[TradeOffPlan, ...],
        Meta(
            description="From the fewest blocks to the smallest error; from each to the next "
            "there are more blocks and the error is smaller."
        ),
    ]
