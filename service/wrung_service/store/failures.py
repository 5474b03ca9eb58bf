"""What the drivers raise, in the words of the store."""

import sqlite3
from collections.abc import Generator
from contextlib import contextmanager
from typing import Final

from sqlalchemy import exc

from wrung_service.store.errors import TakenError, UnavailableError
from wrung_service.store.rules import OVERLAP
from wrung_service.store.servers import state_of, words_of

_CONFLICTS: Final = frozenset({"40P01", "40001"})
"""SQLSTATE of a deadlock and of a serialization failure: the same work may go through next time."""
_UNAVAILABLE: Final = (
    # Class 08, 53, 57: no connection, no resources, the server ends or was told to cancel.
    ("08", "The database cannot be reached."),
    ("53100", "The disk of the database is full."),
    ("53", "The database has no resources left."),
    ("57", "The database is stopping, or took too long."),
    ("55P03", "The database is locked by other work."),
    ("40", "The database is too busy."),
    ("25006", "The database is read-only now."),
    (
        "42501",
        "The role lacks rights: `wrung migrate`, as the owner with --role, gives them.",
    ),
    ("25P03", "The database waited too long for this service."),
)
_SQLITE_UNAVAILABLE: Final = (
    ("locked", "The database is locked by another program."),
    ("busy", "The database is locked by another program."),
    ("disk is full", "The disk of the database is full."),
    ("unable to open", "The database file cannot be opened."),
    ("readonly", "The database file is read-only."),
    ("disk I/O", "The disk of the database fails."),
    ("malformed", "The database file is damaged."),
    ("not a database", "The file is no database."),
)


@contextmanager
def translated() -> Generator[None, None, None]:
    """Raise errors of the store in place of those of the driver; a fault of ours stays as it is.

    Raises:
        TakenError: a promise would overlap another.
        UnavailableError: the database does not do its work now.
    """
    try:
        yield
    except exc.TimeoutError:
        raise UnavailableError("All connections to the database are busy.", 1) from None
    except exc.DBAPIError as error:
        if isinstance(error, exc.IntegrityError) and OVERLAP in str(error.orig):
            raise TakenError from None
        if (detail := _unavailable(error)) is None:
            raise
        raise UnavailableError(detail, words=words_of(error)) from error


def is_conflict(error: exc.DBAPIError) -> bool:
    """Whether the transaction only met another one, and may be done anew."""
    return state_of(error) in _CONFLICTS


def _unavailable(error: exc.DBAPIError) -> str | None:
    """What is wrong with the database, if it is the database and not the statement."""
    if (state := state_of(error)) is not None:
        return next((said for begin, said in _UNAVAILABLE if state.startswith(begin)), None)
    if error.connection_invalidated:
        return "The database cannot be reached."
    # Of SQLite alone: names of databases and roles may have such words in them.
    text = str(error.orig) if isinstance(error.orig, sqlite3.Error) else ""
    if found := next((said for part, said in _SQLITE_UNAVAILABLE if part in text), None):
        return found
    # psycopg gives a lost or refused connection no state.
    lost = isinstance(error, exc.OperationalError)
    return "The database cannot be reached." if lost else None
