"""What is done with the hands for one stack, from the case and back to it."""

from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import Final, Literal, TypeAlias

from msgspec import Struct

from wrung.answers import PlacedBlock, Stack
from wrung.arguments import with_tuples
from wrung.blocks import Block
from wrung.handwork.caliper import caliper_reading
from wrung.handwork.changes import Changes, changes, joints_of
from wrung.handwork.soaking import OVERNIGHT, soaking_minutes
from wrung.lengths import mm
from wrung.measures import Measure
from wrung.texts import Marked, Phrase, figure, phrase

Phase: TypeAlias = Literal["fetch", "clean", "wring", "soak", "check", "put_away"]
THIN: Final = mm("2.5")
"""Blocks below this bend when they are wrung by themselves (common practice, no source)."""

MARKED_ON_FACE: Final = mm("6")
"""Shorter blocks carry their figure on a measuring face (ISO 3650, from memory)."""


class Step(Struct, frozen=True, kw_only=True):
    """One thing to do, and the blocks that are in hand for it."""

    phase: Phase
    said: Phrase
    blocks: tuple[str, ...] = ()


@with_tuples
def steps(
    stack: Stack,
    blocks: Sequence[Block],
    previous: Stack | None = None,
    *,
    goes_on: bool = False,
) -> tuple[Step, ...]:
    """Everything that is done with the hands for a stack, in order.

    Args:
        stack: the stack to build.
        blocks: the blocks on the shelf, to know materials.
        previous: the stack that is in hand and no longer needed, if there is one.
        goes_on: whether another stack is made from this one.
    """
    change = None if previous is None else changes(previous, stack)
    return (
        *_fetching(stack, change),
        *(_cleaning() if change is None or change.added else ()),
        *_lying_overnight(stack, change),
        *_wringing(stack, change),
        *_soaking(stack, blocks, change),
        *_checking(stack),
        *_putting_away(stack, goes_on=goes_on),
    )


def _fetching(stack: Stack, change: Changes | None) -> Iterator[Step]:
    if change is None:
        yield _of_blocks("fetch", "step.take", stack.blocks)
    else:
        yield from _reusing(change)
    said = phrase("step.compare", figure("nominal", stack.nominal, Measure.LENGTH))
    yield Step(phase="fetch", said=said)


def _reusing(change: Changes) -> Iterator[Step]:
    if not change.removed and not change.added:
        yield _of_blocks("fetch", "step.same", change.kept)
        return
    if change.removed:
        yield _of_blocks("fetch", "step.take_off", change.removed)
    for run in change.runs:
        yield _of_blocks("fetch", "step.keep", run)
    if change.added:
        yield _of_blocks("fetch", "step.add", change.added)


def _cleaning() -> Iterator[Step]:
    for key in ("step.clean", "step.inspect", "step.dust"):
        yield Step(phase="clean", said=phrase(key))


def _wringing(stack: Stack, change: Changes | None) -> Iterator[Step]:
    if len(stack.blocks) == 1:
        yield _of_block("step.single", stack.blocks[0])
        return
    base = stack.blocks[0]
    joined = frozenset[tuple[str, str]]() if change is None else change.joints
    if change is None or change.joints != joints_of(stack.blocks):
        yield _of_block("step.wear_base" if base.role == "wear" else "step.base", base)
    wrung = [pair for pair in pairwise(stack.blocks) if (pair[0].id, pair[1].id) not in joined]
    if any(_marked_on_face(block) for _, block in wrung):
        yield Step(phase="wring", said=phrase("step.marked"))
    for below, block in wrung:
        yield _of_block(_wring_key(block), block, below)
    yield Step(phase="wring", said=phrase("step.hold"))


def _marked_on_face(block: PlacedBlock) -> bool:
    return block.role == "gauge" and block.nominal < MARKED_ON_FACE


def _wring_key(block: PlacedBlock) -> str:
    if block.role == "wear":
        return "step.wear_top"
    return "step.wring_thin" if block.nominal < THIN else "step.wring"


def _soaking(stack: Stack, blocks: Sequence[Block], change: Changes | None) -> Iterator[Step]:
    if change is not None and not change.removed and not change.added:
        return
    minutes = soaking_minutes(stack, blocks)
    yield Step(phase="soak", said=phrase("step.soak", figure("minutes", minutes)))


def _lying_overnight(stack: Stack, change: Changes | None) -> Iterator[Step]:
    """Before they are wrung: blocks are not left wrung overnight."""
    if stack.nominal > OVERNIGHT and (change is None or change.added):
        yield Step(phase="soak", said=phrase("step.soak_overnight"))


def _checking(stack: Stack) -> Iterator[Step]:
    # Far too coarse to measure a stack, but it shows at once that a wrong block was taken.
    reading = caliper_reading(stack)
    said = phrase(
        "step.caliper",
        figure("reading", reading.reading, Measure.LENGTH),
        figure("give", reading.give, Measure.LENGTH),
    )
    yield Step(phase="check", said=said)


def _putting_away(stack: Stack, *, goes_on: bool) -> Iterator[Step]:
    if goes_on:
        yield Step(phase="put_away", said=phrase("step.next"))
        return
    if len(stack.blocks) > 1:
        yield Step(phase="put_away", said=phrase("step.apart"))
    yield Step(phase="put_away", said=phrase("step.recoat"))


def _of_blocks(phase: Phase, key: str, blocks: Sequence[PlacedBlock]) -> Step:
    said = phrase(key, figure("blocks", tuple(map(marked, blocks))))
    return Step(phase=phase, said=said, blocks=tuple(block.id for block in blocks))


def _of_block(key: str, block: PlacedBlock, below: PlacedBlock | None = None) -> Step:
    on = () if below is None else (figure("below", (marked(below),)),)
    ids = (block.id,) if below is None else (block.id, below.id)
    return Step(phase="wring", said=phrase(key, figure("block", (marked(block),)), *on), blocks=ids)


def marked(block: PlacedBlock) -> Marked:
    """A block as it is told apart at the bench."""
    return Marked(nominal=block.nominal, unit=block.unit, id=block.id)
