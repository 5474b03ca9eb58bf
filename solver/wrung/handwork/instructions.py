"""The instructions that go with a stack: what to do, and what to beware of in this very use."""

from collections.abc import Iterator, Sequence
from typing import Final

from wrung.answers import Stack
from wrung.arguments import with_tuples
from wrung.blocks import Block
from wrung.handwork.soaking import OVERNIGHT
from wrung.handwork.steps import Step, steps
from wrung.stack_names import Named
from wrung.texts import Phrase, phrase

_BRITTLE: Final = frozenset(
    {"zirconia", "tungsten-carbide", "chromium-carbide", "fused-silica", "zerodur"}
)


class Instructions(Named, frozen=True, kw_only=True):
    """What goes with a stack to the bench.

    Attributes:
        target: ref of the target.
        role: the part that the stack plays in it.
        cautions: what to beware of, the use's own first.
        steps: what to do, in order.
    """

    cautions: tuple[Phrase, ...]
    steps: tuple[Step, ...]


@with_tuples
def instructions(
    stack: Stack,
    blocks: Sequence[Block],
    *,
    cautions: Sequence[str] = (),
    previous: Stack | None = None,
    goes_on: bool = False,
) -> Instructions:
    """The instructions for one stack.

    Args:
        stack: the stack to build.
        blocks: the blocks on the shelf.
        cautions: keys of the cautions that belong to the use, such as a target's ``cautions``.
        previous: the stack in hand that is no longer needed, if there is one.
        goes_on: whether another stack is made from this one.
    """
    return Instructions(
        target=stack.target,
        role=stack.role,
        # A use may name a caution that holds for every stack anyway: it is given once.
        cautions=tuple(phrase(key) for key in dict.fromkeys(_cautions(stack, blocks, cautions))),
        steps=steps(stack, blocks, previous, goes_on=goes_on),
    )


def _cautions(stack: Stack, blocks: Sequence[Block], own: Sequence[str]) -> Iterator[str]:
    yield from own
    yield from ("caution.burr", "caution.solvent")
    used = {placed.id for placed in stack.blocks}
    if any(block.material in _BRITTLE for block in blocks if block.id in used):
        yield "caution.brittle"
    if stack.nominal > OVERNIGHT:
        yield from ("caution.heavy", "caution.airy")
    yield "caution.calibration"
