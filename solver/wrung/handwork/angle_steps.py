"""What is done with the hands for angle blocks, which add or, turned round, subtract."""

from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import Final

from wrung.angles import MINUTE
from wrung.answers import Stack
from wrung.arguments import with_tuples
from wrung.handwork.instructions import Instructions
from wrung.handwork.steps import Step
from wrung.measures import Measure
from wrung.targets.angle_blocks import AngleBlocksResult, AngleBlocksTarget
from wrung.texts import figure, phrase

_GIVE: Final = 5 * MINUTE
"""What a vernier bevel protractor is read to (common practice, no source)."""


@with_tuples
def angle_instructions(target: AngleBlocksTarget, stacks: Sequence[Stack]) -> Instructions | None:
    """The instructions for a target's angle blocks; None where it has none in the plan."""
    found = target.results(stacks)
    if found.angle_reached is None:
        return None
    return Instructions(
        target=target.ref,
        cautions=tuple(phrase(key) for key in target.cautions),
        steps=tuple(_steps(found, found.angle_reached)),
    )


def _steps(found: AngleBlocksResult, total: int) -> Iterator[Step]:
    blocks = _in_order(found)
    angles = figure("blocks", tuple(block for block, _ in blocks), Measure.ANGLE)
    yield Step(phase="fetch", said=phrase("step.take", angles))
    for key in ("step.clean", "step.inspect", "step.dust"):
        yield Step(phase="clean", said=phrase(key))
    yield from _wringing(blocks)
    yield Step(
        phase="check",
        said=phrase(
            "step.protractor",
            figure("reading", total, Measure.ANGLE),
            figure("give", _GIVE, Measure.ANGLE),
        ),
    )
    if len(blocks) > 1:
        yield Step(phase="put_away", said=phrase("step.apart"))
    yield Step(phase="put_away", said=phrase("step.recoat"))


def _in_order(found: AngleBlocksResult) -> list[tuple[int, bool]]:
    """Angles, and whether each adds: the largest that adds is the base, then by size."""
    base, *rest = found.added_blocks
    others = [
        *((angle, True) for angle in rest),
        *((angle, False) for angle in found.subtracted_blocks),
    ]
    return [(base, True), *sorted(others, reverse=True)]


def _wringing(blocks: list[tuple[int, bool]]) -> Iterator[Step]:
    base = figure("block", blocks[0][0], Measure.ANGLE)
    if len(blocks) == 1:
        yield Step(phase="wring", said=phrase("step.single", base))
        return
    yield Step(phase="wring", said=phrase("step.base", base))
    for (below, _), (angle, adds) in pairwise(blocks):
        key = "step.wring_adding" if adds else "step.wring_subtracting"
        block, under = figure("block", angle, Measure.ANGLE), figure("below", below, Measure.ANGLE)
        said = phrase(key, block, under)
        yield Step(phase="wring", said=said)
    yield Step(phase="wring", said=phrase("step.hold"))
