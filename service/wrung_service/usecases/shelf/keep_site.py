"""Make a site, or change it."""

import sqlalchemy as sa
from msgspec.structs import replace

from wrung_service.store import history
from wrung_service.store.engine import Store
from wrung_service.store.sites import Site, find_site, hold_shelf, save_site
from wrung_service.usecases.shelf.acting import Acting


def keep_site(store: Store, wanted: Site, by: Acting) -> tuple[Site, bool]:
    """The site as it is now, and whether it was made.

    Raises:
        StoreError: the precondition is not met.
        UnavailableError: the database does not do its work now.
    """

    def work(connection: sa.Connection) -> tuple[Site, bool]:
        hold_shelf(connection, wanted.id)
        held = find_site(connection, wanted.id)
        same = held is not None and (held.name, held.time_zone) == (wanted.name, wanted.time_zone)
        by.when.check("site", wanted.id, held.version if held else None, same=same)
        if held is not None and same:
            return held, False
        kept = wanted
        if held is not None:
            kept = replace(wanted, made_at=held.made_at, version=held.version + 1)
        save_site(connection, kept)
        history.append(connection, _event(kept, by, made=held is None))
        return kept, held is None

    return store.write(work)


def _event(kept: Site, by: Acting, *, made: bool) -> history.Event:
    return history.Event(
        site=kept.id,
        at=by.at,
        who=by.who,
        why=by.why,
        what="site.made" if made else "site.changed",
        kind="site",
        subject=kept.id,
        detail={"name": kept.name, "time_zone": kept.time_zone},
    )
