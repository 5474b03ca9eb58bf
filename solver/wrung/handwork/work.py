"""What the steps for one stack are written from."""

from collections.abc import Sequence

from msgspec import Struct

from wrung.answers import PlacedBlock, Stack
from wrung.blocks import LONG, Block
from wrung.handwork.changes import Changes, changes
from wrung.handwork.temperatures import Apart
from wrung.lengths import Unit
from wrung.texts import Phrase


class Series(Struct, frozen=True, kw_only=True):
    """Where a stack stands among others that are built one after another.

    Attributes:
        blocks: of all stacks of the series, each once: they come out of the case together.
        previous: the stack in hand that is no longer needed; None for the first.
        goes_on: whether another stack is made from this one.
    """

    blocks: tuple[PlacedBlock, ...]
    previous: Stack | None = None
    goes_on: bool = False


class Work(Struct, frozen=True, kw_only=True):
    """One stack at the bench.

    Attributes:
        stack: the stack to build.
        shelf: the blocks on the shelf, to know materials.
        series: where it stands among others.
        uses: what is done with it.
        unit: of the instruments at the bench.
        apart: the temperatures of stack and work; None where both are equally warm.
    """

    stack: Stack
    shelf: Sequence[Block]
    series: Series
    uses: tuple[Phrase, ...] = ()
    unit: Unit = "mm"
    apart: Apart | None = None

    @property
    def change(self) -> Changes | None:
        """What becomes of the stack before; None for the first of a series."""
        before = self.series.previous
        return None if before is None else changes(before, self.stack)

    @property
    def long(self) -> bool:
        """Whether the stack is handled as a long one."""
        return self.stack.nominal > LONG

    def known(self, placed: Sequence[PlacedBlock]) -> tuple[Block, ...]:
        """The blocks of the shelf that stand at those places."""
        ids = {block.id for block in placed}
        return tuple(block for block in self.shelf if block.id in ids)


def alone(stack: Stack) -> Series:
    """The series of a stack that no other follows."""
    return Series(blocks=stack.blocks)
