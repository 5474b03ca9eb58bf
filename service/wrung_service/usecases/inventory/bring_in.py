"""Bring sets and blocks into the crib: all of them or none; or only say what would change."""

from collections.abc import Mapping

import sqlalchemy as sa
from msgspec import Struct
from msgspec.structs import replace

from wrung_service.store import history
from wrung_service.store.blocks import KeptBlock
from wrung_service.store.engine import Store
from wrung_service.store.errors import VersionError
from wrung_service.store.risks import Risk, open_risks
from wrung_service.store.sets import StoredSet
from wrung_service.store.sites import get_site, hold_shelf
from wrung_service.usecases.shelf.acting import Acting
from wrung_service.usecases.shelf.counting import risks_of_change
from wrung_service.usecases.shelf.keep_block import check_lengths, check_sets
from wrung_service.usecases.shelf.keep_set import SetChange, apply_set, compare_set
from wrung_service.usecases.shelf.write_blocks import (
    BlockChange,
    WantedBlock,
    apply,
    check_steps,
    compare,
)


class BringIn(Struct, frozen=True, kw_only=True):
    """What is to be brought in.

    Attributes:
        versions: of blocks that were read to be completed; none of them may have changed since.
        preview: only say what would change.
    """

    sets: tuple[StoredSet, ...] = ()
    blocks: tuple[WantedBlock, ...] = ()
    versions: Mapping[str, int] = {}
    preview: bool = False


class BroughtIn(Struct, frozen=True, kw_only=True):
    """What changed, or would, and the plans that cannot, or could not, count on it."""

    sets: tuple[SetChange, ...]
    blocks: tuple[BlockChange, ...]
    applied: bool
    at_risk: tuple[Risk, ...] = ()

    @property
    def changed(self) -> tuple[KeptBlock, ...]:
        """The blocks that differ, as they are afterwards."""
        return tuple(each.after for each in self.blocks if each.effect == "changed")


def bring_in(store: Store, site: str, wanted: BringIn, by: Acting) -> BroughtIn:
    """What changed, or would.

    Raises:
        NoSuchSetError: blocks name sets that are neither there nor among those brought in.
        StateError: a block would get another length.
        VersionError: a block was changed meanwhile.
        UnknownError: there is no such site.
        UnavailableError: the database does not do its work now.
    """
    if wanted.preview:
        with store.reading() as connection:
            found = _compared(connection, site, wanted, by)
            at_risk = risks_of_change(connection, site, found.changed, by.at)
            return replace(found, at_risk=at_risk)

    def work(connection: sa.Connection) -> BroughtIn:
        hold_shelf(connection, site)
        found = _compared(connection, site, wanted, by)
        events = [event for each in found.sets for event in apply_set(connection, site, each, by)]
        events += apply(connection, site, found.blocks, by)
        if events:
            history.append(connection, *events)
        names = [each.block.id for each in found.changed]
        return replace(found, at_risk=open_risks(connection, site, names))

    return store.write(work)


def _compared(connection: sa.Connection, site: str, wanted: BringIn, by: Acting) -> BroughtIn:
    get_site(connection, site)
    check_sets(connection, site, wanted.blocks, frozenset(each.id for each in wanted.sets))
    to_change = not wanted.preview
    blocks = compare(connection, site, wanted.blocks, by, to_change=to_change)
    check_lengths(blocks)
    check_steps(connection, site, blocks)
    for each in blocks:
        if each.before and wanted.versions.get(each.before.block.id) not in (
            None,
            each.before.version,
        ):
            raise VersionError("block", each.before.block.id)
    sets = tuple(compare_set(connection, site, each) for each in wanted.sets)
    return BroughtIn(sets=sets, blocks=blocks, applied=to_change)
