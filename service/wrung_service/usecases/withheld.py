"""What others have of a crib, where unmet stacks lack it: that need not be bought."""

from collections.abc import Sequence

from msgspec import Struct
from msgspec.structs import replace

from wrung.answers import Answer, Stack
from wrung.stack_names import StackName
from wrung_service.usecases.crib_shelf import Taken
from wrung_service.usecases.stack_query import StackQuery


class Withheld(Struct, frozen=True, kw_only=True):
    """A stack that is not to be had from what others leave free.

    Attributes:
        taken: what others have of a plan with it; empty if none was found in time.
    """

    name: StackName
    taken: tuple[Taken, ...] = ()


def as_if_free(query: StackQuery) -> StackQuery | None:
    """The query as if nobody else had anything; None where nobody has."""
    crib = query.crib
    if crib is None or not crib.taken_in(*query.windows) & {block.id for block in query.blocks}:
        return None
    return replace(query, crib=replace(crib, taken=()), preferences=())


def to_buy(answer: Answer, free: Answer | None) -> Answer:
    """The answer, its blocks to add only those that lack even with what others have."""
    if answer.shortage is None:
        return answer
    if free is not None and free.shortage is not None:
        lack, left = free.shortage.blocks_to_add, free.shortage.not_helped
    else:
        lack, left = (), tuple(each.name for each in (free or answer).unmet)
    return replace(answer, shortage=replace(answer.shortage, blocks_to_add=lack, not_helped=left))


def withheld(query: StackQuery, answer: Answer, free: Answer | None) -> tuple[Withheld, ...]:
    """The unmet stacks that there may be with what others have; ``free`` None: it is not known."""
    stacks = {} if free is None else {stack.name: stack for stack in free.stacks}
    unmet = () if free is None else free.unmet
    lost = {each.name for each in unmet if each.reason == "cannot_be_built"}
    return tuple(
        Withheld(
            name=each.name,
            # Where its own are free, it is others that make room with theirs.
            taken=_taken(query, [stacks[each.name]]) or _taken(query, tuple(stacks.values()))
            if each.name in stacks
            else (),
        )
        for each in answer.unmet
        if each.name not in lost
    )


def _taken(query: StackQuery, stacks: Sequence[Stack]) -> tuple[Taken, ...]:
    """What others have of these stacks while they are needed."""
    targets = (target.ref for target in query.targets)
    windows = dict(zip(targets, query.windows, strict=True))
    crib = query.crib
    if crib is None:
        return ()
    return tuple(
        each
        for each in crib.taken
        if any(
            each.meets(windows[stack.target])
            and any(placed.id in crib.whole([each.block]) for placed in stack.blocks)
            for stack in stacks
        )
    )
