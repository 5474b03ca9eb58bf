"""A block as people look at it: what it is, what happened to it, and what it was certified as."""

from datetime import datetime
from typing import Final

from msgspec import Struct

from wrung_service.store.blocks import KeptBlock, get_block
from wrung_service.store.certificates import PastCertificate, certificates_of
from wrung_service.store.engine import Store
from wrung_service.store.entries import EntryFilter, last_entries
from wrung_service.store.history import Entry
from wrung_service.store.loans import Claim, claims
from wrung_service.store.sites import Site, get_site

_MOST_ENTRIES: Final = 200


class BlockSeen(Struct, frozen=True, kw_only=True):
    """What is to be seen of a block.

    Attributes:
        entries: of history, the newest first; the last ones only.
        certificates: the oldest first.
        claims: who it is promised to from now on.
    """

    site: Site
    held: KeptBlock
    entries: tuple[Entry, ...]
    certificates: tuple[PastCertificate, ...]
    claims: tuple[Claim, ...]


def look_at_block(store: Store, site: str, name: str, now: datetime) -> BlockSeen:
    """The block in one state.

    Raises:
        UnknownError: there is no such site or block.
        UnavailableError: the database does not do its work now.
    """
    wanted = EntryFilter(kind="block", subject=name)
    with store.reading() as connection:
        return BlockSeen(
            site=get_site(connection, site),
            held=get_block(connection, site, name),
            entries=last_entries(connection, site, wanted, _MOST_ENTRIES),
            certificates=certificates_of(connection, site, name),
            claims=claims(connection, site, [name], now),
        )
