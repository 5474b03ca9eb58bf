"""Instructions for every stack of an answer, with the cautions of what each is for."""

from collections.abc import Sequence

from wrung.answers import Answer, Stack
from wrung.blocks import Block
from wrung.handwork.instructions import Instructions, instructions
from wrung.targets import Target
from wrung.targets.requirement import Requirement


def handwork(
    answer: Answer, targets: Sequence[Target], blocks: Sequence[Block]
) -> tuple[Instructions, ...]:
    """Instructions in the order of the stacks; stacks of one sequence follow from each other.

    Args:
        answer: what `wrung.solve` said.
        targets: the targets that it was asked for.
        blocks: the blocks that it was given.
    """
    wanted = {r.ref: (r, t.cautions) for t in targets for r in t.requirements()}
    in_hand: dict[str, Stack] = {}
    written: list[Instructions] = []
    for stack in answer.stacks:
        requirement, cautions = wanted[stack.ref]
        previous = _previous(requirement, in_hand)
        written.append(instructions(stack, blocks, cautions=cautions, previous=previous))
        if requirement.sequence is not None:
            in_hand[requirement.sequence] = stack
    return tuple(written)


def _previous(requirement: Requirement, in_hand: dict[str, Stack]) -> Stack | None:
    return None if requirement.sequence is None else in_hand.get(requirement.sequence)
