"""What a finished stack is worth: its best known length, and what that is uncertain by."""

from collections.abc import Sequence
from typing import Annotated

from msgspec import Meta, Struct

from wrung.answers import Stack
from wrung.measures import Deviation, Length, Margin
from wrung.stack_names import StackName


class BuiltLength(Struct, frozen=True, kw_only=True):
    """A stack as built."""

    target: Annotated[str, Meta(description="The target's `ref`.")]
    role: Annotated[str | None, Meta(description="The part that the stack plays in it.")] = None
    wanted_length: Annotated[Length, Meta(description="The wanted length.")]
    length: Annotated[
        Length, Meta(description="Best known length: nominal lengths and certified deviations.")
    ]
    error: Annotated[Deviation, Meta(description="`length` less the wanted length.")]
    margin: Annotated[
        Margin,
        Meta(
            description="How much the true length may differ from `length`: margins "
            "of the blocks, and joints."
        ),
    ]


def built(stacks: Sequence[Stack], name: StackName) -> BuiltLength | None:
    """The stack of that name as built; None if there is none."""
    return next((as_built(stack) for stack in stacks if stack.name == name), None)


def as_built(stack: Stack) -> BuiltLength:
    """A stack's best known length and its margin."""
    error = stack.nominal + stack.deviation - stack.length
    return BuiltLength(
        target=stack.target,
        role=stack.role,
        wanted_length=stack.length,
        length=stack.nominal + stack.deviation,
        error=error,
        # The worst case holds the known error, too; what may be unknown is the rest.
        margin=stack.worst_case_error - abs(error),
    )
