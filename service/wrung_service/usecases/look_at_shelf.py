"""A site as whoever asks for stacks needs it: its sets, and what became of some blocks."""

from collections.abc import Iterable, Mapping
from typing import Final

from msgspec import Struct

from wrung_service.store.blocks import KeptBlock, find_blocks
from wrung_service.store.engine import Store
from wrung_service.store.pages import Place
from wrung_service.store.sets import StoredSet, list_sets
from wrung_service.store.sites import Site, get_site

_MOST_SETS: Final = 500


class ShelfSeen(Struct, frozen=True, kw_only=True):
    """The sets of a site, and of the blocks that were asked for those that there are, by id."""

    site: Site
    sets: tuple[StoredSet, ...]
    blocks: Mapping[str, KeptBlock]


def look_at_shelf(store: Store, site: str, names: Iterable[str]) -> ShelfSeen:
    """The site in one state.

    Raises:
        UnknownError: there is no such site.
        UnavailableError: the database does not do its work now.
    """
    with store.reading() as connection:
        return ShelfSeen(
            site=get_site(connection, site),
            sets=list_sets(connection, site, Place(limit=_MOST_SETS)).items,
            blocks=find_blocks(connection, site, names),
        )
