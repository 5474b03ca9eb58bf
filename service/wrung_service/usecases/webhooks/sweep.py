"""What comes to pass by itself at the sites: plans expire, blocks become late, due and overdue."""

from datetime import datetime
from zoneinfo import ZoneInfo

import sqlalchemy as sa

from wrung_service.store.engine import Store
from wrung_service.store.pages import Place
from wrung_service.store.sites import Site, list_sites
from wrung_service.store.webhooks.deliveries import add_message, any_old, clear_old
from wrung_service.store.webhooks.endpoints import Endpoint, find_endpoint, open_endpoints
from wrung_service.store.webhooks.notices import new_notices, note
from wrung_service.usecases.keep_plans import expire_plans

_SITES = 500
"""In a page of the list of sites."""


def sweep(store: Store, now: datetime) -> None:
    """Do at every site what is due at this moment; safe to do anywhere and at any time.

    Raises:
        UnavailableError: the database does not do its work now.
    """
    for site in every_site(store):
        expire_plans(store, site.id, now)
        for endpoint in _open_endpoints(store, site.id):
            notice_blocks(store, site, endpoint, now)
        _clear(store, site.id, now)


def every_site(store: Store) -> tuple[Site, ...]:
    """All sites.

    Raises:
        UnavailableError: the database does not do its work now.
    """
    found: tuple[Site, ...] = ()
    place: Place | None = Place(limit=_SITES)
    while place is not None:
        with store.reading() as connection:
            page = list_sites(connection, place, None)
        found += page.items
        place = None if page.last is None else Place(after=page.last, limit=_SITES)
    return found


def notice_blocks(store: Store, site: Site, endpoint: Endpoint, now: datetime) -> None:
    """Write down what an endpoint is to be told of blocks, once.

    Raises:
        UnavailableError: the database does not do its work now.
    """
    today = now.astimezone(ZoneInfo(site.time_zone)).date()
    with store.reading() as connection:
        # Most of the time there is nothing, and reading holds nobody up.
        if not new_notices(connection, site.id, endpoint, today, now):
            return

    def work(connection: sa.Connection) -> None:
        # Its row is held, so that another replica waits, and then sees what was noted.
        held = find_endpoint(connection, site.id, endpoint.id, to_change=True)
        if held is None or held.stopped_at is not None:
            return
        told = new_notices(connection, site.id, held, today, now)
        for each in told:
            add_message(connection, site.id, [held.id], each.message, now)
        if told:
            note(connection, site.id, held.id, told, now)

    store.write(work)


def _open_endpoints(store: Store, site: str) -> tuple[Endpoint, ...]:
    with store.reading() as connection:
        return open_endpoints(connection, site)


def _clear(store: Store, site: str, now: datetime) -> None:
    with store.reading() as connection:
        if not any_old(connection, site, now):
            return
    store.write(lambda connection: clear_old(connection, site, now))
