"""Blocks of the crib with what a certificate says of them."""

from collections.abc import Sequence

from msgspec import Struct
from msgspec.structs import replace

from wrung.blocks import Block
from wrung.metrology.certificates import apply_certificates
from wrung_service.store.blocks import BlockFilter, KeptBlock, list_blocks
from wrung_service.store.engine import Store
from wrung_service.store.pages import Place
from wrung_service.store.sites import get_site
from wrung_service.usecases.shelf.write_blocks import WantedBlock

_ALL = Place(limit=1_000_000)
_EVERY = BlockFilter()


class Certified(Struct, frozen=True, kw_only=True):
    """Blocks as the certificate wants them, and the versions that they were made from."""

    blocks: tuple[WantedBlock, ...]
    versions: dict[str, int]


def whole_shelf(store: Store, site: str, wanted: BlockFilter = _EVERY) -> tuple[KeptBlock, ...]:
    """Every block of the site, or all that are wanted.

    Raises:
        UnknownError: there is no such site.
        UnavailableError: the database does not do its work now.
    """
    with store.reading() as connection:
        get_site(connection, site)
        return list_blocks(connection, site, wanted, _ALL).items


def certify(held: Sequence[KeptBlock], stated: Sequence[Block], of_set: str | None) -> Certified:
    """The blocks of the crib that a certificate is about.

    A block is found by its id, else by that id in the set, else by its serial number, if one block
    of its length has that.

    Raises:
        InputError: with pointers into ``/certified``: a block is not there, or has another length.
    """
    by_id = {each.block.id: each for each in held}
    named = [_named(block, by_id, of_set) for block in stated]
    shelf = [each.block for each in held]
    newer = {block.id: block for block in apply_certificates(shelf, named)}
    wanted = dict.fromkeys(block.id for block in named)
    return Certified(
        blocks=tuple(_wanted(by_id[name], newer[name]) for name in wanted),
        versions={name: by_id[name].version for name in wanted},
    )


def _named(stated: Block, by_id: dict[str, KeptBlock], of_set: str | None) -> Block:
    """The certified block under the id that it has in the crib."""
    if stated.id in by_id:
        return stated
    in_set = f"{of_set or stated.set}/{stated.id}"
    if in_set in by_id:
        return replace(stated, id=in_set)
    alike = [
        each.block.id
        for each in by_id.values()
        if stated.serial
        and each.block.serial == stated.serial
        and each.block.nominal == stated.nominal
        and of_set in (None, each.block.set)
    ]
    return replace(stated, id=alike[0]) if len(alike) == 1 else stated


def _wanted(held: KeptBlock, newer: Block) -> WantedBlock:
    return WantedBlock(block=newer, maker_number=held.maker_number)
