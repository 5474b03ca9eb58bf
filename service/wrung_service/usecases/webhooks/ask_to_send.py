"""Messages that somebody asks for: a test, and one that was sent before."""

from datetime import datetime

import sqlalchemy as sa

from wrung_service.store.engine import Store
from wrung_service.store.errors import StateError
from wrung_service.store.webhooks.deliveries import (
    Delivery,
    add_message,
    get_delivery,
    send_again,
)
from wrung_service.store.webhooks.endpoints import Endpoint, get_endpoint
from wrung_service.store.webhooks.messages import TestFigures, TestMessage


def send_test(store: Store, site: str, name: str, now: datetime) -> Delivery:
    """A test message, which waits to be sent.

    Raises:
        UnknownError: there is no such endpoint.
        StateError: it is disabled.
        UnavailableError: the database does not do its work now.
    """

    def work(connection: sa.Connection) -> Delivery:
        _enabled(connection, site, name)
        message = TestMessage(timestamp=now, data=TestFigures(site=site, webhook=name))
        made = add_message(connection, site, [name], message, now)
        return get_delivery(connection, site, name, made)

    return store.write(work)


def resend(store: Store, site: str, name: str, message: str, now: datetime) -> Delivery:
    """A message as it is now: it waits to be sent once more.

    Raises:
        UnknownError: there is no such endpoint or message.
        StateError: the endpoint is disabled.
        UnavailableError: the database does not do its work now.
    """

    def work(connection: sa.Connection) -> Delivery:
        get_delivery(connection, site, name, message)
        _enabled(connection, site, name)
        send_again(connection, site, name, message, now)
        return get_delivery(connection, site, name, message)

    return store.write(work)


def _enabled(connection: sa.Connection, site: str, name: str) -> Endpoint:
    found = get_endpoint(connection, site, name)
    if found.stopped_at is not None:
        raise StateError(f"The webhook {name!r} is disabled; enable it first.")
    return found
