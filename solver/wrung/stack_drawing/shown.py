"""What a drawing shows of a stack: its blocks from the plate up, and the lengths beside them."""

from collections.abc import Mapping, Sequence
from itertools import accumulate
from types import MappingProxyType

from msgspec import Struct

from wrung.answers import Stack
from wrung.blocks import Block
from wrung.checked_types import typed
from wrung.handwork.order import standing
from wrung.lengths import Unit
from wrung.markings import Marking


class DrawnBlock(Struct, frozen=True, kw_only=True):
    """A block where it stands.

    Attributes:
        order: its place in the order of wringing, from 1.
        nominal: its nominal length, quanta.
        unit: the unit that it is marked in.
        is_wear_block: whether it is one.
        is_step: whether it is a step of a step block.
        origin: its set and serial number, as far as they are known.
        marking: how sizes are marked in its set; as usual in its unit if None.
    """

    order: int
    nominal: int
    unit: Unit
    is_wear_block: bool
    origin: str
    marking: Marking | None = None
    is_step: bool = False


class StackDrawing(Struct, frozen=True, kw_only=True):
    """What is drawn; all lengths are quanta.

    Attributes:
        length: the length that is wanted.
        nominal: the sum of the blocks.
        deviation: the sum of their certified deviations.
        unit: of the lengths beside the blocks.
        blocks: from the plate up.
    """

    length: int
    nominal: int
    deviation: int
    unit: Unit
    blocks: tuple[DrawnBlock, ...]

    @property
    def left(self) -> tuple[int, ...]:
        """What is left of the sum once the blocks down to each are taken off, from the top."""
        down = (-block.nominal for block in reversed(self.blocks))
        return tuple(accumulate(down, initial=self.nominal))[1:]


@typed
def drawn(
    stack: Stack,
    shelf: Sequence[Block],
    *,
    unit: Unit = "mm",
    markings: Mapping[str, Marking] = MappingProxyType({}),
) -> StackDrawing:
    """What is drawn of a stack of an answer.

    Args:
        stack: the stack.
        shelf: the blocks that it was planned from, to know sets and serial numbers.
        unit: of the lengths beside the blocks.
        markings: how sizes are marked in sets, by their ids, where that is not as usual.
    """
    known = {block.id: block for block in shelf}
    order = {block.id: place for place, block in enumerate(stack.blocks, start=1)}
    return StackDrawing(
        length=stack.length,
        nominal=stack.nominal,
        deviation=stack.deviation,
        unit=unit,
        blocks=tuple(
            DrawnBlock(
                order=order[block.id],
                nominal=block.nominal,
                unit=block.unit,
                is_wear_block=block.role == "wear",
                origin=_origin(known.get(block.id)),
                marking=markings.get(_set(known.get(block.id))),
                is_step=block.body is not None,
            )
            for block in standing(stack.blocks)
        ),
    )


def _set(block: Block | None) -> str:
    return (block and block.set) or ""


def _origin(block: Block | None) -> str:
    return "" if block is None else " ".join(filter(None, (block.set, block.serial)))
