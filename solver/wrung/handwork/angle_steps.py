"""What is done with the hands for angle blocks, which add or, turned over, subtract."""

from collections.abc import Iterator
from itertools import pairwise

from wrung.handwork.care import prepared, put_back
from wrung.handwork.instructions import Instructions, waiting
from wrung.handwork.protractor import protractor_reading, to_minutes
from wrung.handwork.soaking import normalising_minutes
from wrung.handwork.step import Step, step
from wrung.handwork.uses.angles import angle_blocks
from wrung.measures import Measure
from wrung.targets.angle_blocks import AngleBlocksResult, AngleBlocksTarget
from wrung.texts import figure, phrase


def angle_instructions(target: AngleBlocksTarget, found: AngleBlocksResult) -> Instructions | None:
    """The instructions for a target's angle blocks; None where it has none in the plan."""
    if found.angle_reached is None:
        return None
    steps = tuple(_steps(found, found.angle_reached))
    return Instructions(
        target=target.ref,
        cautions=tuple(phrase(key) for key in target.cautions),
        steps=steps,
        waiting_minutes=waiting(steps),
    )


def _steps(found: AngleBlocksResult, total: int) -> Iterator[Step]:
    blocks = _in_order(found)
    several = len(blocks) > 1
    listed = figure("blocks", tuple(block for block, _ in blocks), Measure.ANGLE)
    yield step("fetch", "step.take", listed)
    yield step("fetch", "step.compare_angles")
    # All angle blocks are small; what they are made of is not asked for, and most are of steel.
    yield step("normalise", "step.normalise", figure("minutes", normalising_minutes(())))
    yield from prepared(steel=True, brittle=False)
    yield from _wringing(blocks)
    yield from _checked(total)
    use = angle_blocks(found)
    if use is not None:
        yield Step(phase="use", said=use)
    yield from put_back(wrung=several)
    yield step("preserve", "step.preserve", listed)
    yield step("put_away", "step.put_away")


def _checked(total: int) -> Iterator[Step]:
    rough = protractor_reading(total)
    if rough is not None:
        reading = figure("reading", to_minutes(rough.reading))
        yield step("check", "step.protractor", reading, figure("give", to_minutes(rough.give)))


def _in_order(found: AngleBlocksResult) -> list[tuple[int, bool]]:
    """Angles, and whether each adds: the largest that adds is the base, then by size."""
    base, *rest = found.added_blocks
    others = [(angle, True) for angle in rest]
    others += [(angle, False) for angle in found.subtracted_blocks]
    return [(base, True), *sorted(others, reverse=True)]


def _wringing(blocks: list[tuple[int, bool]]) -> Iterator[Step]:
    base = figure("block", blocks[0][0], Measure.ANGLE)
    if len(blocks) == 1:
        yield step("wring", "step.single", base)
        return
    yield step("wring", "step.base", base)
    for (below, _), (angle, adds) in pairwise(blocks):
        key = "step.wring_adding" if adds else "step.wring_subtracting"
        block, under = figure("block", angle, Measure.ANGLE), figure("below", below, Measure.ANGLE)
        yield step("wring", key, block, under)
    yield step("wring", "step.hold", base)
