"""Wringing: the base first, thinner blocks onto thicker ones, wear blocks last."""

from collections.abc import Iterator, Sequence
from typing import Final

from wrung.answers import PlacedBlock
from wrung.handwork.changes import Joints, joint
from wrung.handwork.order import wrung_onto
from wrung.handwork.step import Step, of_block, step
from wrung.handwork.work import Work
from wrung.lengths import mm

THIN: Final = mm("2.5")
"""Blocks below this bend when they are wrung by themselves (common practice, no source)."""

MARKED_ON_FACE: Final = mm("6")
"""Shorter blocks carry their figure on a measuring face (ISO 3650, from memory)."""


def wringing(work: Work) -> Iterator[Step]:
    """From clean blocks to a stack that holds."""
    blocks, change = work.stack.blocks, work.change
    if change is not None and change.none:
        yield from _step_in_use(work)
        return
    if len(blocks) == 1:
        yield of_block("wring", "step.single", blocks[0])
        yield from _step_in_use(work)
        return
    pairs = [(wrung_onto(blocks, k), block) for k, block in enumerate(blocks) if k > 0]
    closed: Joints = frozenset() if change is None else change.joints
    new = [(below, block) for below, block in pairs if joint(below, block) not in closed]
    if new:
        yield of_block("wring", "step.base", blocks[0])
    if any(_marked_on_face(block) for _, block in new):
        yield step("wring", "step.marked")
    for below, block in new:
        yield of_block("wring", _key(work, below, block), block, (below,))
    yield from _step_in_use(work)
    yield of_block("wring", "step.hold", blocks[0])
    if work.long and new:
        # A rod passes only where every block has a hole.
        square = _all_square(work, blocks)
        yield step("wring", "step.tie_rod" if square else "step.tie")


def _step_in_use(work: Work) -> Iterator[Step]:
    """Where the length ends, once it is another step than before."""
    if work.change is None or work.change.stepped:
        steps = (block for block in work.stack.blocks if block.body is not None)
        yield from (of_block("wring", "step.use_step", block) for block in steps)


def _marked_on_face(block: PlacedBlock) -> bool:
    return block.role == "gauge" and block.body is None and block.nominal < MARKED_ON_FACE


def _key(work: Work, below: PlacedBlock, block: PlacedBlock) -> str:
    if block.role == "wear":
        return "step.wear" if below.body is None else "step.wear_foot"
    if block.body is not None:
        return "step.wring_foot"
    if block.nominal < THIN:
        return "step.wring_thin"
    # Of two squares none can lie crosswise on the other.
    return "step.wring_square" if _all_square(work, (below, block)) else "step.wring"


def _all_square(work: Work, blocks: Sequence[PlacedBlock]) -> bool:
    return all(block.section == "square" for block in work.known(blocks))
