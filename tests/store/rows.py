"""Rows as tests need them, written without the repositories that they test."""

from datetime import UTC, datetime, timedelta

import sqlalchemy as sa

from wrung_service.store import tables

SITE = "north-hall"
START = datetime(2027, 3, 1, 8, tzinfo=UTC)


def hours(number: float) -> datetime:
    """So many hours after `START`."""
    return START + timedelta(hours=number)


def add_site(connection: sa.Connection, site: str = SITE, *blocks: str) -> None:
    """A site with some blocks, each 1 mm long."""
    values = {"id": site, "name": site, "time_zone": "Europe/Berlin", "made_at": START}
    connection.execute(sa.insert(tables.site), values)
    for name in blocks:
        add_block(connection, name, site=site)


def add_set(connection: sa.Connection, name: str, *, site: str = SITE) -> None:
    """A set without blocks."""
    values = {"site_id": site, "id": name, "unit": "mm", "made_at": START}
    connection.execute(sa.insert(tables.gauge_set), values)


def add_block(connection: sa.Connection, name: str, *, site: str = SITE, **members: object) -> None:
    """A block that is fit for use."""
    values = {
        "site_id": site,
        "id": name,
        "nominal": 100_000_000,
        "unit": "mm",
        "role": "gauge",
        "grade": "1",
        "condition": "fit",
        "condition_since": START,
        "made_at": START,
    }
    connection.execute(sa.insert(tables.block), {**values, **members})


def add_plan(connection: sa.Connection, name: str, *, site: str = SITE, **members: object) -> None:
    """A plan for the first hour."""
    values = {
        "id": name,
        "site_id": site,
        "job": "4711",
        "state": "planned",
        "starts_at": START,
        "ends_at": hours(1),
        "request": "{}",
        "answer": "{}",
        "record": "{}",
        "made_at": START,
        "made_by": "a test",
    }
    connection.execute(sa.insert(tables.plan), {**values, **members})


def add_promise(
    connection: sa.Connection, plan: str, block: str, window: tuple[float, float], site: str = SITE
) -> None:
    """A promise, in hours after `START`."""
    connection.execute(
        sa.insert(tables.promise),
        {
            "site_id": site,
            "plan_id": plan,
            "block_id": block,
            "stack": 0,
            "starts_at": hours(window[0]),
            "ends_at": hours(window[1]),
        },
    )


class Clock:
    """Stands still until it is set."""

    def __init__(self, now: datetime = START - timedelta(days=1)) -> None:
        self.now = now

    def __call__(self) -> datetime:
        return self.now
