"""What is served of each priority, and what is proven of it, as it stands on the wire."""

from collections import Counter
from collections.abc import Iterable
from typing import Annotated

from msgspec import UNSET, Meta, Struct, UnsetType

from wrung.answers import Answer
from wrung.targets import Requirement


class ServedOfPriority(Struct, frozen=True, kw_only=True):
    """The stacks of one priority: wanted, served, and the most that are proven possible."""

    priority: Annotated[
        int | None, Meta(description="As the targets state it; null for those without one.")
    ]
    requested_stacks: Annotated[
        int, Meta(ge=1, description="Stacks that targets of this priority need.")
    ]
    served_stacks: Annotated[int, Meta(ge=0, description="Stacks of them in this plan.")]
    upper_bound: Annotated[
        int | None,
        Meta(
            description="No plan that serves as many of each more urgent priority serves more of "
            "this one; null where a more urgent priority is not proven.",
        ),
    ]


def write_priorities(
    requirements: Iterable[Requirement], answer: Answer
) -> tuple[ServedOfPriority, ...] | UnsetType:
    """The priorities of these stacks, the most urgent first; unset where there are none."""
    priority = {each.name: each.priority for each in requirements}
    wanted = Counter(priority.values())
    served = Counter(priority.get(stack.name) for stack in answer.stacks)
    found = tuple(
        ServedOfPriority(
            priority=each.priority,
            requested_stacks=wanted[each.priority],
            served_stacks=served[each.priority],
            upper_bound=each.served,
        )
        for each in answer.bounds.by_priority
    )
    return found or UNSET
