"""Connections to the one database, and the two ways to use them: to read, and to write."""

import threading
from collections.abc import Callable, Generator
from contextlib import AbstractContextManager, contextmanager, nullcontext
from typing import Any, Final, TypeVar

import sqlalchemy as sa
from sqlalchemy import event, exc

from wrung_service.store.errors import StoreError, UnavailableError
from wrung_service.store.failures import is_conflict, translated
from wrung_service.store.one_file import OneFile

T = TypeVar("T")

_CONNECTIONS: Final = 20
"""At least as many as threads that use the store at one time."""
_WAIT_MS: Final = 5000
"""How long a statement waits for a lock, and a thread for a connection, before it gives up."""
_STATEMENT_MS: Final = 20_000
_TRIES: Final = 4
_SQLITE_PRAGMAS: Final = (
    f"busy_timeout={_WAIT_MS}",
    "journal_mode=WAL",
    # In WAL mode the default would lose what was acknowledged when the power fails.
    "synchronous=FULL",
    "foreign_keys=ON",
)


class _Turn:
    """A lock for which nobody waits longer than for that of the database.

    Where another program locks the database, those who queue must not wait one after another.
    """

    def __init__(self) -> None:
        self._lock = threading.Lock()

    def __enter__(self) -> None:
        if not self._lock.acquire(timeout=_WAIT_MS / 1000):
            raise UnavailableError("The database is locked by other work.")

    def __exit__(self, *_: object) -> None:
        self._lock.release()


class Store:
    """The database of the crib; made once, used by all threads.

    Attributes:
        on_sqlite: whether it is SQLite, which has one writer at a time.
    """

    def __init__(self, url: str) -> None:
        """``url`` is ``sqlite:///FILE`` or ``postgresql://USER@HOST/NAME``."""
        parsed = database_url(url)
        self.on_sqlite = parsed.get_backend_name() == "sqlite"
        self.engine = _sqlite_engine(parsed) if self.on_sqlite else _postgres_engine(parsed)
        self._writer = self.engine.execution_options(write=True)
        # SQLite waits for its write lock by sleeping; threads of one process queue here instead,
        # which makes the slowest of them ten times as fast.
        self._turn: AbstractContextManager[Any] = _Turn() if self.on_sqlite else nullcontext()

    @contextmanager
    def reading(self) -> Generator[sa.Connection, None, None]:
        """A transaction that only reads, and sees one state throughout.

        Raises:
            UnavailableError: the database does not do its work now.
        """
        with translated(), self.engine.begin() as connection:
            yield connection

    @contextmanager
    def writing(self) -> Generator[sa.Connection, None, None]:
        """A transaction that writes: all of it, or nothing where anything is raised.

        Raises:
            TakenError: a promise would overlap another.
            UnavailableError: the database does not do its work now.
        """
        with translated(), self._turn, self._writer.begin() as connection:
            yield connection

    def write(self, work: Callable[[sa.Connection], T]) -> T:
        """What ``work`` returns, done in one transaction; anew if it met others on its way.

        Raises:
            TakenError: a promise would overlap another.
            UnavailableError: the database does not do its work now.
        """
        for _ in range(_TRIES - 1):
            try:
                with self._turn, self._writer.begin() as connection:
                    return work(connection)
            except StoreError:
                raise
            except exc.DBAPIError as error:
                if not is_conflict(error):
                    with translated():
                        raise
        with self.writing() as connection:
            return work(connection)

    def close(self) -> None:
        """Give all connections back."""
        self.engine.dispose()


def database_url(url: str) -> sa.URL:
    """The address with the driver that is installed.

    Raises:
        ValueError: it is no address of SQLite or PostgreSQL.
    """
    try:
        parsed = sa.make_url(url)
    except exc.ArgumentError:
        raise ValueError("is no address such as sqlite:///wrung.db") from None
    match parsed.get_backend_name():
        case "sqlite" if parsed.database and parsed.database != ":memory:":
            return parsed.set(drivername="sqlite+pysqlite")
        case "postgresql" | "postgres":
            return parsed.set(drivername="postgresql+psycopg")
        case _:
            raise ValueError("must begin with sqlite:/// and a file, or with postgresql://")


def _sqlite_engine(url: sa.URL) -> sa.Engine:
    engine = sa.create_engine(
        url,
        pool_size=_CONNECTIONS,
        max_overflow=0,
        # What a connection has read and kept is most likely still true on the one used last.
        pool_use_lifo=True,
        pool_timeout=_WAIT_MS / 1000,
        connect_args={"timeout": _WAIT_MS / 1000, "check_same_thread": False},
    )
    event.listen(engine, "connect", _set_up_sqlite)
    OneFile(url.database or "").watch(engine)
    event.listen(engine, "begin", _begin_sqlite)
    return engine


def _set_up_sqlite(connection: Any, _record: object) -> None:  # noqa: ANN401 - of the driver
    # Else the driver begins transactions of its own, which cannot be immediate.
    connection.isolation_level = None
    for pragma in _SQLITE_PRAGMAS:
        connection.execute(f"PRAGMA {pragma}")


def _begin_sqlite(connection: sa.Connection) -> None:
    # A reader that turns writer halfway would be refused where another wrote meanwhile.
    writes = connection.get_execution_options().get("write")
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")


def _postgres_engine(url: sa.URL) -> sa.Engine:
    return sa.create_engine(
        url,
        pool_size=_CONNECTIONS,
        max_overflow=0,
        # What a connection has read and kept is most likely still true on the one used last.
        pool_use_lifo=True,
        pool_timeout=_WAIT_MS / 1000,
        # A server that went and came back is met with a new connection, not with an error.
        pool_pre_ping=True,
        connect_args={
            "connect_timeout": _WAIT_MS // 1000,
            "options": f"-c lock_timeout={_WAIT_MS} -c statement_timeout={_STATEMENT_MS} "
            "-c timezone=UTC",
            "tcp_user_timeout": _STATEMENT_MS,
        },
    )
