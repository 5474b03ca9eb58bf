"""What a server of PostgreSQL must be like, and what it says of itself."""

from typing import Final

import sqlalchemy as sa
from sqlalchemy import exc

from wrung_service.store.errors import UnfitStoreError

OLDEST_POSTGRESQL: Final = 13
"""Whose owners of a database may make the extension that the rules need, and what workers need."""


def check_server(connection: sa.Connection) -> None:
    """Refuse a server that is too old, or a database that cannot hold every text.

    Raises:
        UnfitStoreError: with what to do about it.
    """
    if connection.dialect.name == "sqlite":
        return
    version, encoding = connection.exec_driver_sql(
        "SELECT current_setting('server_version_num')::int / 10000, "
        "current_setting('server_encoding')"
    ).one()
    if version < OLDEST_POSTGRESQL:
        raise UnfitStoreError(
            f"This is PostgreSQL {version}; it must be {OLDEST_POSTGRESQL} or newer."
        )
    if encoding != "UTF8":
        raise UnfitStoreError(
            f"The database has the encoding {encoding}, in which not every text can be kept. Make "
            "it anew: CREATE DATABASE … ENCODING 'UTF8' TEMPLATE template0."
        )


def words_of(error: exc.DBAPIError) -> str:
    """What the driver said; it may quote addresses and values, but no password."""
    return str(error.orig).strip()


def state_of(error: BaseException | None) -> str | None:
    """The SQLSTATE of an error; None if it has none, as when no connection was made."""
    return getattr(getattr(error, "orig", None), "sqlstate", None)
