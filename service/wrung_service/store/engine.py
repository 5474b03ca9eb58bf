"""Connections to the one database, and the two ways to use them: to read, and to write."""

import threading
from collections.abc import Callable, Generator
from contextlib import AbstractContextManager, contextmanager, nullcontext
from datetime import UTC, datetime, timedelta
from typing import Any, Final, TypeAlias, TypeVar

import sqlalchemy as sa
from sqlalchemy import event, exc

from wrung_service.store.errors import UnavailableError
from wrung_service.store.failures import is_conflict, translated
from wrung_service.store.one_file import OneFile

T = TypeVar("T")
Reading: TypeAlias = sa.Connection
"""What is read by; for those who do not know the database."""

_CONNECTIONS: Final = 20
"""At least as many as threads that use the store at one time."""
WAIT_MS: Final = 5000
"""How long a statement waits for a lock before it gives up."""
_WAIT_FOR_CONNECTION_S: Final = 1
CONNECT_S: Final = 3
_STATEMENT_S: Final = 8
"""How long PostgreSQL may take for a statement while somebody waits for an answer over HTTP."""
_LATE_S: Final = 2
"""How much later than that the database is given up, as it does not even say that it is late."""
_TRIES: Final = 4
AS_TEXT: Final = {"client_encoding": "utf8"}
"""What PostgreSQL is told: where a database has no encoding, the driver would read bytes."""
_RECYCLE_S: Final = 600
"""So old a connection becomes; a clock that was set meanwhile is noticed with the next one."""
_SQLITE_PRAGMAS: Final = (
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
        if not self._lock.acquire(timeout=WAIT_MS / 1000):
            raise UnavailableError("The database is locked by other work.")

    def __exit__(self, *_: object) -> None:
        self._lock.release()


class Store:
    """The database of the crib; made once, used by all threads.

    Attributes:
        on_sqlite: whether it is SQLite, which has one writer at a time.
        while_asking: what is entered as long as a thread waits for the database.
    """

    def __init__(self, url: str, *, statement_s: int = _STATEMENT_S) -> None:
        """A store that is there; nothing is made, and nothing opened before the first use.

        Args:
            url: ``sqlite:///FILE`` or ``postgresql://USER@HOST/NAME``.
            statement_s: how long PostgreSQL may take for one statement.
        """
        parsed = database_url(url)
        self.on_sqlite = parsed.get_backend_name() == "sqlite"
        self.engine = (
            _sqlite_engine(parsed) if self.on_sqlite else _postgres_engine(parsed, statement_s)
        )
        self._ahead = timedelta(0)
        if not self.on_sqlite:
            event.listen(self.engine, "connect", self._compare_clocks)
        self.while_asking: Callable[[], AbstractContextManager[None]] = nullcontext
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
        with self.while_asking(), translated(), self.engine.begin() as connection:
            yield connection

    @contextmanager
    def writing(self) -> Generator[sa.Connection, None, None]:
        """A transaction that writes: all of it, or nothing where anything is raised.

        Raises:
            TakenError: a promise would overlap another.
            UnavailableError: the database does not do its work now.
        """
        with self.while_asking(), translated(), self._turn, self._writer.begin() as connection:
            yield connection

    def read(self, work: Callable[[Reading], T]) -> T:
        """What ``work`` returns, which only reads; raises as `reading`."""
        with self.reading() as connection:
            return work(connection)

    def write(self, work: Callable[[sa.Connection], T]) -> T:
        """What ``work`` returns, done in one transaction; anew if it met others on its way.

        Raises:
            TakenError: a promise would overlap another.
            UnavailableError: the database does not do its work now.
        """
        for left in reversed(range(_TRIES)):
            with self.while_asking(), translated():
                try:
                    with self._turn, self._writer.begin() as connection:
                        return work(connection)
                except exc.DBAPIError as error:
                    if not left or not is_conflict(error):
                        raise
        raise AssertionError("the last try returns or raises")

    def now(self) -> datetime:
        """The moment by the clock of the database's machine, so that all replicas have one.

        By a clock of its own, a replica that is fast would let plans expire that are still needed.
        """
        return machine_now() + self._ahead

    def greet(self) -> None:
        """Do nothing but ask whether the database is there.

        Raises:
            UnavailableError: it is not, or does not answer.
        """
        with self.reading() as connection:
            connection.exec_driver_sql("SELECT version_num FROM alembic_version")

    def close(self) -> None:
        """Give all connections back; one that a thread still uses, once it does no longer."""
        event.listen(self.engine, "checkin", _let_go)
        self.engine.dispose()

    def _compare_clocks(self, connection: Any, _record: object) -> None:  # noqa: ANN401 - of the driver
        before = machine_now()
        said: datetime = connection.execute("SELECT clock_timestamp()").fetchone()[0]
        self._ahead = said - (before + (machine_now() - before) / 2)
        connection.rollback()


def machine_now() -> datetime:
    """The moment by the clock of this machine."""
    return datetime.now(UTC)


def _let_go(_: object, record: Any) -> None:  # noqa: ANN401 - of the pool
    record.invalidate()


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
        pool_timeout=_WAIT_FOR_CONNECTION_S,
        connect_args={"timeout": WAIT_MS / 1000, "check_same_thread": False},
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


def _postgres_engine(url: sa.URL, statement_s: int) -> sa.Engine:
    limits = {
        "lock_timeout": WAIT_MS,
        "statement_timeout": statement_s * 1000,
        # What a program that is gone without a word has locked is free again by the time that
        # others have given up.
        "idle_in_transaction_session_timeout": statement_s * 1000,
        "timezone": "UTC",
    }
    engine = sa.create_engine(
        url,
        pool_size=_CONNECTIONS,
        max_overflow=0,
        # What a connection has read and kept is most likely still true on the one used last.
        pool_use_lifo=True,
        pool_timeout=_WAIT_FOR_CONNECTION_S,
        pool_recycle=_RECYCLE_S,
        # A server that went and came back is met with a new connection, not with an error.
        pool_pre_ping=True,
        connect_args={
            **AS_TEXT,
            "connect_timeout": CONNECT_S,
            "options": " ".join(f"-c {name}={value}" for name, value in limits.items()),
        },
    )
    # Only here: the driver takes 11 MB, and a service without PostgreSQL needs none of it.
    from wrung_service.store.bounded import bound  # noqa: PLC0415

    bound(engine, statement_s + _LATE_S)
    return engine
