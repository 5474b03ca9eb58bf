"""API keys: what is kept of them, which is never the key itself."""

from collections.abc import Sequence
from datetime import datetime

import msgspec
import sqlalchemy as sa
from msgspec import Struct

from wrung_service.store.errors import UnknownError
from wrung_service.store.prepared import prepared
from wrung_service.store.tables import api_key, site


@prepared
class StoredKey(Struct, frozen=True, kw_only=True):
    """A key as it is kept.

    Attributes:
        id: the part of the key that may be shown; it finds the row.
        holder: the program or person that it was given to.
        site_id: the only site that it opens; None for all.
        scopes: names with spaces between them.
        hash: SHA-256 of the whole key, in hex.
    """

    id: str
    holder: str
    site_id: str | None
    scopes: str
    hash: str
    made_at: datetime
    made_by: str
    expires_at: datetime | None = None
    revoked_at: datetime | None = None
    used_at: datetime | None = None

    def valid(self, now: datetime) -> bool:
        """Whether it still opens anything."""
        return self.revoked_at is None and (self.expires_at is None or now < self.expires_at)


def insert_key(connection: sa.Connection, key: StoredKey) -> None:
    """Keep a new key."""
    connection.execute(sa.insert(api_key), msgspec.structs.asdict(key))


def find_key(connection: sa.Connection, key_id: str) -> StoredKey | None:
    """The key of that id, valid or not."""
    row = connection.execute(sa.select(api_key).where(api_key.c.id == key_id)).first()
    return None if row is None else msgspec.convert(row, StoredKey, from_attributes=True)


def list_keys(connection: sa.Connection, holder: str | None = None) -> tuple[StoredKey, ...]:
    """All keys, or those of one holder, the oldest first."""
    query = sa.select(api_key).order_by(api_key.c.made_at, api_key.c.id)
    if holder is not None:
        query = query.where(api_key.c.holder == holder)
    rows = connection.execute(query).all()
    return tuple(msgspec.convert(row, StoredKey, from_attributes=True) for row in rows)


def revoke_key(connection: sa.Connection, key_id: str, at: datetime) -> None:
    """End a key now; one that has ended already stays as it is."""
    ended = sa.update(api_key).where(api_key.c.id == key_id, api_key.c.revoked_at.is_(None))
    connection.execute(ended.values(revoked_at=at))


def note_use(connection: sa.Connection, key_id: str, at: datetime) -> None:
    """Note when the key was used, so that an old one can be taken out without surprise."""
    connection.execute(sa.update(api_key).where(api_key.c.id == key_id).values(used_at=at))


def hold_holder(connection: sa.Connection, name: str) -> None:
    """Let those who make keys for one holder take turns until they commit."""
    if connection.dialect.name != "sqlite":
        connection.execute(sa.select(sa.func.pg_advisory_xact_lock(sa.func.hashtext(name))))


def sites_of(connection: sa.Connection, site_id: str | None) -> Sequence[str]:
    """The sites that a key opens.

    Raises:
        UnknownError: there is no such site.
    """
    every = connection.scalars(sa.select(site.c.id).order_by(site.c.id)).all()
    if site_id is None:
        return every
    if site_id not in every:
        raise UnknownError("site", site_id)
    return [site_id]
