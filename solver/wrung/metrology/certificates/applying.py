"""Apply what certificates state to blocks that are already on the shelf."""

from collections.abc import Iterable, Iterator, Sequence

from msgspec.structs import replace

from wrung.blocks import Block
from wrung.checked_types import typed
from wrung.errors import Fault, require
from wrung.lengths import to_text
from wrung.names import or_nearest


@typed
def apply_certificates(shelf: Sequence[Block], certified: Sequence[Block]) -> tuple[Block, ...]:
    """The shelf with newer deviations, uncertainties and calibrations, found by block id.

    What a certificate does not state, such as set, grade or material, stays as it is.

    Raises:
        InputError: with pointers into ``/certified``: a block is not on the shelf, or is another
            one by its nominal length. Then nothing is applied.
    """
    known = {block.id: block for block in shelf}
    require(*_faults(known, certified))
    newer = {block.id: _newer(known[block.id], block) for block in certified}
    return tuple(newer.get(block.id, block) for block in shelf)


def _faults(known: dict[str, Block], certified: Iterable[Block]) -> Iterator[Fault]:
    for index, block in enumerate(certified):
        at = f"/certified/{index}"
        held = known.get(block.id)
        if held is None:
            yield Fault(
                pointer=f"{at}/id",
                detail=f"no block has the id {block.id!r}{or_nearest(block.id, known)}",
            )
        # Then it is another block, and its deviation would go to the wrong one.
        elif held.nominal != block.nominal:
            length = f"{to_text(held.nominal, held.unit)} {held.unit}"
            yield Fault(pointer=f"{at}/nominal", detail=f"{block.id!r} on the shelf has {length}")


def _newer(held: Block, certified: Block) -> Block:
    return replace(
        held,
        deviation=certified.deviation,
        expanded_uncertainty=certified.expanded_uncertainty,
        grade=certified.grade or held.grade,
        material=certified.material or held.material,
        # As a whole: dates of an old calibration would belie the new figures.
        calibration=certified.calibration,
    )
