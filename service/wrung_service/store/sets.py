"""Gauge sets of a site: what is said of them as a whole; their blocks say the rest."""

from datetime import datetime
from typing import Any

import sqlalchemy as sa
from msgspec import Struct

from wrung.lengths import Unit
from wrung_service.store.errors import UnknownError
from wrung_service.store.pages import Page, Place, page_of
from wrung_service.store.tables import gauge_set


class StoredSet(Struct, frozen=True, kw_only=True):
    """A set.

    Attributes:
        composition: what it was delivered as; None for one that was put together freely.
        unit: that its blocks are marked in, if they do not say another.
        maker_number: the maker's number of the article.
    """

    id: str
    composition: str | None
    unit: Unit
    grade: str | None
    material: str | None
    maker: str | None
    maker_number: str | None
    serial: str | None
    note: str | None
    made_at: datetime
    version: int = 1


def find_set(connection: sa.Connection, of: str, name: str) -> StoredSet | None:
    """The set; None if there is none."""
    row = connection.execute(_query(of).where(gauge_set.c.id == name)).first()
    return None if row is None else _set(row)


def get_set(connection: sa.Connection, of: str, name: str) -> StoredSet:
    """The set.

    Raises:
        UnknownError: there is none.
    """
    found = find_set(connection, of, name)
    if found is None:
        raise UnknownError("set", name, known=set_names(connection, of))
    return found


def list_sets(connection: sa.Connection, of: str, place: Place) -> Page[StoredSet]:
    """Sets of the site, by id."""
    return page_of(connection, _query(of), gauge_set.c.id, place, _set)


def set_names(connection: sa.Connection, of: str) -> frozenset[str]:
    """The ids of all sets of the site."""
    query = sa.select(gauge_set.c.id).where(gauge_set.c.site_id == of)
    return frozenset(connection.execute(query).scalars())


def save_set(connection: sa.Connection, of: str, saved: StoredSet) -> None:
    """Write a new set, or a new version of one."""
    values = {name: getattr(saved, name) for name in StoredSet.__struct_fields__}
    if saved.version == 1:
        connection.execute(sa.insert(gauge_set).values(site_id=of, **values))
        return
    same = (gauge_set.c.site_id == of, gauge_set.c.id == saved.id)
    connection.execute(sa.update(gauge_set).where(*same).values(**values))


def _query(of: str) -> sa.Select[Any]:
    return sa.select(gauge_set).where(gauge_set.c.site_id == of, gauge_set.c.removed_at.is_(None))


def _set(row: Any) -> StoredSet:  # noqa: ANN401 - a row
    return StoredSet(**{name: getattr(row, name) for name in StoredSet.__struct_fields__})
