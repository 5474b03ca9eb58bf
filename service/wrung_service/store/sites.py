"""Sites: a shop, or a part of it, with a crib of its own."""

from datetime import datetime
from typing import Any

import sqlalchemy as sa
from msgspec import Struct

from wrung_service.store.errors import UnknownError
from wrung_service.store.pages import Page, Place, page_of
from wrung_service.store.tables import site


class Site(Struct, frozen=True, kw_only=True):
    """A site; days begin and end in its time zone, an IANA name."""

    id: str
    name: str
    time_zone: str
    made_at: datetime
    version: int = 1


def hold_shelf(connection: sa.Connection, of: str) -> None:
    """Let no other transaction change sets and blocks of the site until this one ends.

    Taken before any row is locked, so that it stands in nobody's way but that of its like.
    """
    if connection.dialect.name != "sqlite":
        key = sa.func.hashtextextended(f"shelf of {of}", 0)
        connection.execute(sa.select(sa.func.pg_advisory_xact_lock(key)))


def find_site(connection: sa.Connection, of: str) -> Site | None:
    """The site; None if there is none."""
    row = connection.execute(sa.select(site).where(site.c.id == of)).first()
    return None if row is None else _site(row)


def get_site(connection: sa.Connection, of: str) -> Site:
    """The site.

    Raises:
        UnknownError: there is none.
    """
    found = find_site(connection, of)
    if found is None:
        raise UnknownError("site", of)
    return found


def list_sites(
    connection: sa.Connection, place: Place, within: frozenset[str] | None
) -> Page[Site]:
    """Sites by id; only those of ``within``, if that is not None."""
    query = sa.select(site)
    if within is not None:
        query = query.where(site.c.id.in_(within))
    return page_of(connection, query, site.c.id, place, _site)


def save_site(connection: sa.Connection, saved: Site) -> None:
    """Write a new site, or a new version of one."""
    values = {"name": saved.name, "time_zone": saved.time_zone, "version": saved.version}
    if saved.version == 1:
        connection.execute(sa.insert(site).values(id=saved.id, made_at=saved.made_at, **values))
        return
    connection.execute(sa.update(site).where(site.c.id == saved.id).values(**values))


def _site(row: Any) -> Site:  # noqa: ANN401 - a row
    return Site(
        id=row.id, name=row.name, time_zone=row.time_zone, made_at=row.made_at, version=row.version
    )
