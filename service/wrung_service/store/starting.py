"""What a service does about its store before it serves: little, and nothing in silence."""

from msgspec import Struct

from wrung_service.store.engine import Store
from wrung_service.store.migrating import (
    check_store,
    is_made,
    is_older,
    migrate,
    revision_of,
)


class Started(Struct, frozen=True, kw_only=True):
    """A store that is fit for use, and what was changed for that.

    Attributes:
        made: there was none, and it was to be made.
        migrated_from: the revision that it had, if it was an older one.
    """

    store: Store
    made: bool = False
    migrated_from: str | None = None


def start_store(url: str, *, make: bool) -> Started:
    """Open a store, and refuse one that is not fit; an old file of SQLite is migrated first.

    Nobody else uses such a file meanwhile. A database of PostgreSQL may have other services, and
    an owner that the service is not. Rules that are missing are never restored here: whoever runs
    the service has to hear of it.

    Args:
        url: see `Store`.
        make: make a file of SQLite that is not there.

    Raises:
        UnfitStoreError: with what to do about it.
        UnavailableError: the database does not do its work now.
    """
    if made := make and not is_made(url):
        migrate(url)
    store = Store(url)
    try:
        found = _old_revision(store) if is_made(url) else None
        if found is not None:
            migrate(url)
        check_store(store)
    except BaseException:
        store.close()
        raise
    return Started(store=store, made=made, migrated_from=found)


def _old_revision(store: Store) -> str | None:
    """The revision of a file of SQLite that is to be migrated."""
    if not store.on_sqlite:
        return None
    with store.reading() as connection:
        found = revision_of(connection)
    return found if is_older(found) else None
