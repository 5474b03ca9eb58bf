"""Make an endpoint, change it, renew its secret, or remove it."""

import base64
import secrets
from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import Any, Final
from urllib.parse import urlsplit

import sqlalchemy as sa
from msgspec import Struct
from msgspec.structs import replace

from wrung_service.store import history
from wrung_service.store.engine import Store
from wrung_service.store.errors import StateError
from wrung_service.store.sites import get_site, hold_shelf
from wrung_service.store.webhooks.endpoints import (
    Endpoint,
    count_endpoints,
    delete_endpoint,
    find_endpoint,
    get_endpoint,
    save_endpoint,
)
from wrung_service.store.webhooks.messages import EVENT_TYPES, EventType
from wrung_service.usecases.shelf.acting import Acting

MOST_ENDPOINTS: Final = 20
"""Of a site: whatever happens there is written down for each."""
_SECRET_BYTES: Final = 32
"""The standard asks for 24 to 64."""


class WantedEndpoint(Struct, frozen=True, kw_only=True):
    """What is to be said of an endpoint; its secret is made here."""

    id: str
    url: str
    events: tuple[EventType, ...]
    description: str | None
    due_days: int
    enabled: bool


def new_secret() -> str:
    """A secret in the form of the standard: ``whsec_`` and base64."""
    return f"whsec_{base64.b64encode(secrets.token_bytes(_SECRET_BYTES)).decode()}"


def keep_endpoint(
    store: Store, site: str, wanted: WantedEndpoint, by: Acting
) -> tuple[Endpoint, bool]:
    """The endpoint as it is now, and whether it was made.

    Raises:
        StateError: the site has too many already.
        StoreError: there is no such site, or the precondition is not met.
        UnavailableError: the database does not do its work now.
    """

    def work(connection: sa.Connection) -> tuple[Endpoint, bool]:
        hold_shelf(connection, site)
        get_site(connection, site)
        held = find_endpoint(connection, site, wanted.id, to_change=True)
        kept = _made(wanted, by.at) if held is None else _changed(held, wanted, by.at)
        by.when.check("webhook", wanted.id, held.version if held else None, same=kept == held)
        if kept == held:
            return kept, False
        if held is None and count_endpoints(connection, site) >= MOST_ENDPOINTS:
            raise StateError(f"The site has {MOST_ENDPOINTS} webhooks already; remove one first.")
        save_endpoint(connection, site, kept)
        what = "webhook.made" if held is None else "webhook.changed"
        history.append(connection, event_of(site, kept, what, by, _figures(kept)))
        return kept, held is None

    return store.write(work)


def renew_secret(store: Store, site: str, name: str, keep_for: timedelta, by: Acting) -> Endpoint:
    """The endpoint with a new secret; the one before also signs for a while.

    One that was older still ends at once, so that there are never more than two.

    Raises:
        StoreError: there is no such endpoint, or the precondition is not met.
        UnavailableError: the database does not do its work now.
    """

    def work(connection: sa.Connection) -> Endpoint:
        held = get_endpoint(connection, site, name, to_change=True)
        by.when.check("webhook", name, held.version, same=by.when.versions is None)
        kept = replace(
            held,
            secret=new_secret(),
            previous_secret=held.secret if keep_for else None,
            previous_until=by.at + keep_for if keep_for else None,
            version=held.version + 1,
        )
        save_endpoint(connection, site, kept)
        history.append(connection, event_of(site, kept, "webhook.secret_renewed", by, {}))
        return kept

    return store.write(work)


def remove_endpoint(store: Store, site: str, name: str, by: Acting) -> Endpoint:
    """The endpoint as it was; it and its messages are gone.

    Raises:
        StoreError: there is no such endpoint, or the precondition is not met.
        UnavailableError: the database does not do its work now.
    """

    def work(connection: sa.Connection) -> Endpoint:
        held = get_endpoint(connection, site, name)
        by.when.check("webhook", name, held.version, same=False)
        # First: whoever writes messages holds the site, too, before they need the endpoint.
        history.append(connection, event_of(site, held, "webhook.removed", by, {}))
        delete_endpoint(connection, site, name)
        return held

    return store.write(work)


def event_of(
    site: str, endpoint: Endpoint, what: str, by: Acting, detail: Mapping[str, Any]
) -> history.Event:
    """What history says; of the address only where it is, as paths may hold passwords."""
    return history.Event(
        site=site,
        at=by.at,
        who=by.who,
        why=by.why,
        what=what,
        kind="webhook",
        subject=endpoint.id,
        detail=detail,
    )


def _made(wanted: WantedEndpoint, now: datetime) -> Endpoint:
    blank = Endpoint(
        id=wanted.id, url="", secret=new_secret(), events=(), due_days=0, made_at=now, version=0
    )
    return _changed(blank, wanted, now)


def _changed(held: Endpoint, wanted: WantedEndpoint, now: datetime) -> Endpoint:
    """As it is wanted; the next version, if that is something else."""
    off = not wanted.enabled
    after = replace(
        held,
        url=wanted.url,
        # In one order, as they are read again.
        events=tuple(each for each in EVENT_TYPES if each in wanted.events),
        description=wanted.description,
        due_days=wanted.due_days,
        stopped_at=(held.stopped_at or now) if off else None,
        stop_reason=(held.stop_reason or "requested") if off else None,
    )
    return held if after == held else replace(after, version=held.version + 1)


def _figures(kept: Endpoint) -> dict[str, Any]:
    address = urlsplit(kept.url)
    return {
        "origin": f"{address.scheme}://{address.netloc}",
        "events": list(kept.events),
        "due_days": kept.due_days,
        "enabled": kept.stopped_at is None,
    }
