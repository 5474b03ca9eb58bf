"""Endpoints and messages, as tests of webhooks need them."""

from datetime import datetime

import sqlalchemy as sa

from store.rows import SITE, START
from wrung_service.store import tables
from wrung_service.store.engine import Store
from wrung_service.store.webhooks.deliveries import Delivery
from wrung_service.store.webhooks.endpoints import Endpoint, find_endpoint
from wrung_service.store.webhooks.messages import EVENT_TYPES, EventType
from wrung_service.usecases.shelf.acting import Acting
from wrung_service.usecases.webhooks.keep_endpoint import WantedEndpoint, keep_endpoint

URL = "https://erp.example/hooks"


def add_endpoint(  # noqa: PLR0913 - what tests vary
    store: Store,
    name: str = "erp",
    *,
    url: str = URL,
    events: tuple[EventType, ...] = EVENT_TYPES,
    due_days: int = 30,
    site: str = SITE,
    at: datetime = START,
) -> Endpoint:
    """An endpoint."""
    wanted = WantedEndpoint(
        id=name, url=url, events=events, description=None, due_days=due_days, enabled=True
    )
    return keep_endpoint(store, site, wanted, Acting(who="a test", at=at))[0]


def endpoint(store: Store, name: str = "erp", site: str = SITE) -> Endpoint:
    """The endpoint as it is now."""
    with store.reading() as connection:
        found = find_endpoint(connection, site, name)
    assert found is not None
    return found


def deliveries(store: Store, name: str = "erp") -> list[Delivery]:
    """What was written down for an endpoint, the oldest first."""
    table = tables.webhook_delivery
    query = sa.select(table).where(table.c.endpoint_id == name).order_by(table.c.n)
    with store.reading() as connection:
        rows = connection.execute(query).all()
    fields = Delivery.__struct_fields__
    return [Delivery(**{field: getattr(row, field) for field in fields}) for row in rows]


def told(store: Store, name: str = "erp") -> list[str]:
    """The types of all that."""
    return [each.event for each in deliveries(store, name)]
