"""One thing to do with the hands."""

from collections.abc import Iterable, Sequence
from typing import Literal, TypeAlias

from msgspec import Struct

from wrung.answers import PlacedBlock
from wrung.blocks import Block
from wrung.checked_types import typed
from wrung.texts import Figure, Marked, Phrase, figure, phrase

Phase: TypeAlias = Literal[
    "fetch",
    "normalise",
    "clean",
    "inspect",
    "wring",
    "check",
    "soak",
    "use",
    "unwring",
    "preserve",
    "put_away",
]


class Step(Struct, frozen=True, kw_only=True):
    """One thing to do, and the blocks that are in hand for it."""

    phase: Phase
    said: Phrase
    blocks: tuple[str, ...] = ()

    @property
    def minutes(self) -> int:
        """How long it takes to lie and wait; 0 where nothing waits."""
        given = (each.value for each in self.said.figures if each.name == "minutes")
        return sum(value for value in given if isinstance(value, int))


def step(phase: Phase, key: str, *figures: Figure) -> Step:
    """A step that is about no block in particular."""
    return Step(phase=phase, said=phrase(key, *figures))


@typed
def of_blocks(phase: Phase, key: str, blocks: Iterable[PlacedBlock]) -> Step:
    """A step that lists blocks."""
    listed = tuple(blocks)
    said = phrase(key, figure("blocks", tuple(map(told_apart, listed))))
    return Step(phase=phase, said=said, blocks=tuple(block.id for block in listed))


@typed
def of_block(phase: Phase, key: str, block: PlacedBlock, onto: Sequence[PlacedBlock] = ()) -> Step:
    """A step with one block, and with the one below if there is one."""
    below = tuple(figure("below", (told_apart(each),)) for each in onto)
    said = phrase(key, figure("block", (told_apart(block),)), *below)
    return Step(phase=phase, said=said, blocks=(block.id, *(each.id for each in onto)))


def told_apart(block: Block | PlacedBlock) -> Marked:
    """A block as it is told apart at the bench."""
    return Marked(nominal=block.nominal, unit=block.unit, id=block.id)
