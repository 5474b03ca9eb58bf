"""Make a set with all its blocks, or change what is said of it."""

from collections.abc import Sequence

import sqlalchemy as sa
from msgspec import Struct
from msgspec.structs import asdict, replace

from wrung_service.store import history
from wrung_service.store.engine import Store
from wrung_service.store.sets import StoredSet, find_set, save_set
from wrung_service.store.sites import get_site, hold_shelf
from wrung_service.usecases.shelf.acting import Acting
from wrung_service.usecases.shelf.write_blocks import (
    Effect,
    WantedBlock,
    apply,
    check_steps,
    compare,
)


class SetChange(Struct, frozen=True, kw_only=True):
    """What becomes of one set: the state before, None if there was none, and the one after."""

    before: StoredSet | None
    after: StoredSet

    @property
    def effect(self) -> Effect:
        """Whether it is new, or differs."""
        if self.before is None:
            return "added"
        return "unchanged" if self.before == self.after else "changed"


def keep_set(
    store: Store,
    site: str,
    wanted: StoredSet,
    blocks: Sequence[WantedBlock],
    by: Acting,
) -> SetChange:
    """What became of the set. Blocks that are there already stay as they are.

    Raises:
        StoreError: there is no such site, or the precondition is not met.
        UnavailableError: the database does not do its work now.
    """

    def work(connection: sa.Connection) -> SetChange:
        hold_shelf(connection, site)
        get_site(connection, site)
        change = compare_set(connection, site, wanted)
        found = compare(connection, site, blocks, by)
        added = [each for each in found if each.before is None]
        check_steps(connection, site, added)
        version = change.before.version if change.before else None
        same = change.effect == "unchanged" and not added
        by.when.check("set", wanted.id, version, same=same)
        events = apply_set(connection, site, change, by)
        events = (*events, *apply(connection, site, added, by))
        if events:
            history.append(connection, *events)
        return change

    return store.write(work)


def compare_set(connection: sa.Connection, site: str, wanted: StoredSet) -> SetChange:
    """What would become of a set."""
    held = find_set(connection, site, wanted.id)
    if held is None:
        return SetChange(before=None, after=wanted)
    after = replace(wanted, made_at=held.made_at, version=held.version)
    if after != held:
        after = replace(after, version=held.version + 1)
    return SetChange(before=held, after=after)


def apply_set(
    connection: sa.Connection, site: str, change: SetChange, by: Acting
) -> tuple[history.Event, ...]:
    """Make it so. The events are for whoever called, to be written as the last thing."""
    if change.effect == "unchanged":
        return ()
    save_set(connection, site, change.after)
    members = asdict(change.after)
    known = {n: v for n, v in members.items() if v is not None and n not in ("made_at", "id")}
    event = history.Event(
        site=site,
        at=by.at,
        who=by.who,
        why=by.why,
        what="set.made" if change.before is None else "set.changed",
        kind="set",
        subject=change.after.id,
        detail=known,
    )
    return (event,)
