"""Instructions for every stack of an answer, with the cautions of what each is for."""

from collections.abc import Sequence

from wrung.answers import Answer, Stack
from wrung.arguments import with_tuples
from wrung.blocks import Block
from wrung.handwork.angle_steps import angle_instructions
from wrung.handwork.instructions import Instructions, instructions
from wrung.targets import AngleBlocksTarget, Target


@with_tuples
def handwork(
    answer: Answer, targets: Sequence[Target], blocks: Sequence[Block]
) -> tuple[Instructions, ...]:
    """Instructions in the order of the stacks, then for the targets of angle blocks.

    Stacks of one sequence follow from each other, and are put away after the last.

    Args:
        answer: what `wrung.solve` said.
        targets: the targets that it was asked for.
        blocks: the blocks that it was given.
    """
    wanted = {r.name: (r, t.cautions) for t in targets for r in t.requirements()}
    in_hand: dict[str, Stack] = {}
    last = {of: s.name for s in answer.stacks if (of := wanted[s.name][0].sequence)}
    written: list[Instructions] = []
    for stack in answer.stacks:
        requirement, cautions = wanted[stack.name]
        sequence = requirement.sequence or ""
        written.append(
            instructions(
                stack,
                blocks,
                cautions=cautions,
                previous=in_hand.get(sequence),
                goes_on=last.get(sequence, stack.name) != stack.name,
            )
        )
        if sequence:
            in_hand[sequence] = stack
    wedges = [stack for case in answer.cases for stack in case.plan.stacks]
    angles = (angle_instructions(t, wedges) for t in targets if isinstance(t, AngleBlocksTarget))
    return (*written, *(each for each in angles if each is not None))
