"""API keys: made, shown once, found again by their hash, and ended."""

import base64
import re
import secrets
from collections.abc import Sequence
from contextlib import suppress
from datetime import datetime, timedelta
from hashlib import sha256
from hmac import compare_digest
from typing import Final

import sqlalchemy as sa
from msgspec import Struct

from wrung_service.store import history, keys
from wrung_service.store.engine import Store
from wrung_service.store.errors import StateError, UnavailableError, UnknownError
from wrung_service.store.keys import StoredKey
from wrung_service.usecases.scopes import Scope

_KEY: Final = re.compile(r"wrung_(?P<id>[a-z2-7]{8})_[A-Za-z0-9_-]{43}")
MOST_VALID: Final = 2
"""Of one holder and site at a time: the one in use, and the one that will replace it."""
_USE_NOTED_EVERY: Final = timedelta(hours=1)


class WantedKey(Struct, frozen=True, kw_only=True):
    """A key to make.

    Attributes:
        holder: the program or person that it is for.
        scopes: what it allows.
        site: the only site that it opens; None for all.
        expires_at: when it ends by itself.
    """

    holder: str
    scopes: Sequence[Scope]
    site: str | None = None
    expires_at: datetime | None = None


class NewKey(Struct, frozen=True, kw_only=True):
    """A key just made: ``text`` is the secret that its holder sends, and is kept nowhere."""

    text: str
    stored: StoredKey


def make_key(store: Store, wanted: WantedKey, *, by: str, now: datetime) -> NewKey:
    """A new key, kept as its hash.

    Raises:
        StateError: its holder has two valid keys already.
        UnknownError: there is no such site.
        UnavailableError: the database does not do its work now.
    """
    made = _new(wanted, by, now)
    store.write(lambda connection: _keep(connection, made.stored, now))
    return made


def revoke_key(store: Store, key_id: str, *, by: str, now: datetime) -> None:
    """End a key at once.

    Raises:
        UnknownError: there is no such key.
        UnavailableError: the database does not do its work now.
    """

    def work(connection: sa.Connection) -> None:
        key = keys.find_key(connection, key_id)
        if key is None:
            raise UnknownError("key", key_id)
        if key.revoked_at is None:
            keys.revoke_key(connection, key_id, now)
            _note(connection, key, "key.revoked", by, now)

    store.write(work)


def list_keys(store: Store) -> tuple[StoredKey, ...]:
    """All keys, the oldest first.

    Raises:
        UnavailableError: the database does not do its work now.
    """
    with store.reading() as connection:
        return keys.list_keys(connection)


def looks_like_key(text: str) -> bool:
    """Whether it has the form of an API key, so that nothing else need be tried."""
    return text.startswith("wrung_")


def known_key(store: Store, text: str, now: datetime) -> StoredKey | None:
    """The valid key that ``text`` is; None if it is none.

    Raises:
        UnavailableError: the database does not do its work now.
    """
    found = _KEY.fullmatch(text)
    if found is None:
        return None
    with store.reading() as connection:
        key = keys.find_key(connection, found["id"])
    if key is None or not compare_digest(key.hash, _hash(text)) or not key.valid(now):
        return None
    _note_use(store, key, now)
    return key


def _new(wanted: WantedKey, by: str, now: datetime) -> NewKey:
    key_id = base64.b32encode(secrets.token_bytes(5)).decode().lower()
    text = f"wrung_{key_id}_{secrets.token_urlsafe(32)}"
    stored = StoredKey(
        id=key_id,
        holder=wanted.holder,
        site_id=wanted.site,
        scopes=" ".join(wanted.scopes),
        # Not a slow hash: the secret has 256 random bits, which nobody can guess one by one.
        hash=_hash(text),
        made_at=now,
        made_by=by,
        expires_at=wanted.expires_at,
    )
    return NewKey(text=text, stored=stored)


def _keep(connection: sa.Connection, key: StoredKey, now: datetime) -> None:
    keys.hold_holder(connection, key.holder)
    others = keys.list_keys(connection, key.holder)
    valid = [each for each in others if each.valid(now) and each.site_id == key.site_id]
    if len(valid) >= MOST_VALID:
        named = " and ".join(each.id for each in valid)
        raise StateError(
            f"{key.holder} has {MOST_VALID} valid keys, {named}; revoke one of them first."
        )
    keys.sites_of(connection, key.site_id)
    keys.insert_key(connection, key)
    _note(connection, key, "key.made", key.made_by, now)


def _note(connection: sa.Connection, key: StoredKey, what: str, by: str, now: datetime) -> None:
    """Into the history of each site that the key opens."""
    for site in keys.sites_of(connection, key.site_id):
        detail = {"holder": key.holder, "scopes": key.scopes, "every_site": key.site_id is None}
        history.append(
            connection,
            history.Event(
                site=site, at=now, who=by, what=what, kind="key", subject=key.id, detail=detail
            ),
        )


def _note_use(store: Store, key: StoredKey, now: datetime) -> None:
    if key.used_at is not None and now - key.used_at < _USE_NOTED_EVERY:
        return
    # A request that only reads must not fail because nothing can be written.
    with suppress(UnavailableError), store.writing() as connection:
        keys.note_use(connection, key.id, now)


def _hash(text: str) -> str:
    return sha256(text.encode()).hexdigest()
