"""One page of a list, in the order of its ids."""

from collections.abc import Callable
from typing import Any, Generic, TypeVar

import sqlalchemy as sa
from msgspec import Struct

T = TypeVar("T")


class Page(Struct, Generic[T], frozen=True, kw_only=True):
    """Some members of a list; ``last`` is the id to go on after, None where the list ends."""

    items: tuple[T, ...]
    last: str | None = None


class Place(Struct, frozen=True, kw_only=True):
    """Where a page begins, after an id, and how long it may be."""

    after: str | None = None
    limit: int = 100


def page_of(
    connection: sa.Connection,
    query: sa.Select[Any],
    by: sa.ColumnElement[Any],
    place: Place,
    read: Callable[[Any], T],
) -> Page[T]:
    """The page of a query at a place; ``by`` is its id, which is asked for by the name ``id``."""
    if place.after is not None:
        query = query.where(by > place.after)
    # One more than wanted tells whether there is another page.
    rows = connection.execute(query.order_by(by).limit(place.limit + 1)).all()
    more = len(rows) > place.limit
    return Page(
        items=tuple(read(row) for row in rows[: place.limit]),
        last=str(rows[place.limit - 1].id) if more else None,
    )
