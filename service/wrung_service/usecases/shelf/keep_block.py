"""Make one block, or change it."""

from collections.abc import Sequence

import sqlalchemy as sa
from msgspec import Struct

from wrung_service.store import history
from wrung_service.store.engine import Store
from wrung_service.store.errors import StateError
from wrung_service.store.risks import Risk, open_risks
from wrung_service.store.sets import set_names
from wrung_service.store.sites import get_site, hold_shelf
from wrung_service.usecases.shelf.acting import Acting
from wrung_service.usecases.shelf.write_blocks import (
    BlockChange,
    WantedBlock,
    apply,
    check_steps,
    compare,
)


class NoSuchSetError(Exception):
    """Blocks name sets that the site does not have, by the places of these blocks.

    Attributes:
        known: the sets that there are.
    """

    def __init__(self, places: tuple[int, ...], known: frozenset[str]) -> None:
        super().__init__(places)
        self.places, self.known = places, known


class BlockKept(Struct, frozen=True, kw_only=True):
    """What became of a block, and the plans that cannot count on it as it is now."""

    change: BlockChange
    at_risk: tuple[Risk, ...]


def keep_block(store: Store, site: str, wanted: WantedBlock, by: Acting) -> BlockKept:
    """What became of the block.

    Raises:
        NoSuchSetError: the set that it names is not there.
        StateError: it would become another length, or a step that its step block cannot have.
        StoreError: there is no such site, or the precondition is not met.
        UnavailableError: the database does not do its work now.
    """

    def work(connection: sa.Connection) -> BlockKept:
        hold_shelf(connection, site)
        get_site(connection, site)
        check_sets(connection, site, [wanted])
        (change,) = compare(connection, site, [wanted], by, to_change=True)
        version = change.before.version if change.before else None
        by.when.check("block", wanted.block.id, version, same=change.effect == "unchanged")
        check_lengths([change])
        check_steps(connection, site, [change])
        events = apply(connection, site, [change], by)
        if events:
            history.append(connection, *events)
        at_risk = open_risks(connection, site, [wanted.block.id])
        return BlockKept(change=change, at_risk=at_risk)

    return store.write(work)


def check_sets(
    connection: sa.Connection,
    site: str,
    wanted: Sequence[WantedBlock],
    more: frozenset[str] = frozenset(),
) -> None:
    """Refuse blocks whose set is neither there nor among ``more``.

    Raises:
        NoSuchSetError: there are such blocks.
    """
    known = set_names(connection, site) | more
    named = [each.block.set for each in wanted]
    if strange := tuple(i for i, each in enumerate(named) if each and each not in known):
        raise NoSuchSetError(strange, known)


def check_lengths(found: Sequence[BlockChange]) -> None:
    """Refuse to make another length of a block: plans and records rely on the one it has.

    Raises:
        StateError: a nominal length would change.
    """
    for each in found:
        if each.before is not None and each.before.block.nominal != each.after.block.nominal:
            raise StateError(
                f"The block {each.after.block.id!r} has another nominal length; "
                "give a new block an id of its own."
            )
