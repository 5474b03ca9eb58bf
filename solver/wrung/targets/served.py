"""How many stacks and how many whole targets an answer serves, and how many any plan could."""

from collections.abc import Sequence

from msgspec import Struct

from wrung.answers import Answer
from wrung.checked_types import typed
from wrung.targets.base import TargetKind, TargetResult


class Served(Struct, frozen=True, kw_only=True):
    """A count of stacks, and of the targets that have every stack that they need.

    Targets of angle blocks need no stacks of length and are not counted.
    """

    stacks: int
    targets: int


@typed
def served(targets: Sequence[TargetKind[TargetResult]], answer: Answer) -> Served:
    """What the stacks of an answer serve of the targets that it was asked for."""
    names = {stack.name for stack in answer.stacks}
    needed = [[each.name for each in target.requirements()] for target in targets]
    return Served(
        stacks=len(answer.stacks),
        targets=sum(bool(each) and names.issuperset(each) for each in needed),
    )


@typed
def served_at_most(targets: Sequence[TargetKind[TargetResult]], answer: Answer) -> Served:
    """What is proven of every plan: none has more stacks, and none serves more targets whole."""
    lost = {each.name for each in answer.unmet if each.reason == "cannot_be_built"}
    needed = [[each.name for each in target.requirements()] for target in targets]
    sizes = sorted(len(each) for each in needed if each and lost.isdisjoint(each))
    # Targets of few stacks first: no other choice of whole targets takes fewer stacks.
    room, whole = answer.bounds.served, 0
    for size in sizes:
        if size > room:
            break
        room, whole = room - size, whole + 1
    return Served(stacks=answer.bounds.served, targets=whole)
