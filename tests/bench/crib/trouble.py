"""What can happen to a database while it is in use; each ends when its block is left."""

import os
import selectors
import socket
import sqlite3
import subprocess
import tempfile
import threading
import time
from collections import deque
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

import psycopg

from postgres import Postgres

_PIECE = 65_536
_SMALL = "40m"
"""Enough for PostgreSQL's first 9 MB of a database, and for what a case writes."""


@contextmanager
def small_disk(size: str = _SMALL) -> Iterator[Path]:
    """A disk that can be filled.

    Raises:
        OSError: nothing may be mounted here.
    """
    folder = Path(tempfile.mkdtemp(prefix="wrung-small-"))
    mounted = ["mount", "-t", "tmpfs", "-o", f"size={size}", "none", str(folder)]
    try:
        done = subprocess.run(mounted, capture_output=True, check=False)  # noqa: S603 - no shell
        if done.returncode:
            raise OSError(done.stderr.decode())
        try:
            yield folder
        finally:
            subprocess.run(["umount", str(folder)], check=True)  # noqa: S603, S607 - of the system
    finally:
        folder.rmdir()


@contextmanager
def full(disk: Path) -> Iterator[None]:
    """There is no byte left on the disk."""
    filler = disk / "filler"
    with filler.open("wb", buffering=0) as file, suppress(OSError):
        while True:
            # To the last byte: a write that only half fits says how much of it did.
            file.write(b"\0" * _PIECE)
    yield
    filler.unlink()


@contextmanager
def locked_file(path: Path) -> Iterator[None]:
    """Another program writes, and does not come to an end."""
    other = sqlite3.connect(path, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    yield
    other.rollback()
    other.close()


@contextmanager
def moved_file(path: Path) -> Iterator[None]:
    """Somebody moves the file away with all that belongs to it, and back."""
    aside = path.with_name("aside")
    aside.mkdir()
    for each in path.parent.glob(f"{path.name}*"):
        each.rename(aside / each.name)
    yield
    for each in aside.iterdir():
        each.rename(path.with_name(each.name))
    aside.rmdir()


@contextmanager
def locked_table(url: str, table: str) -> Iterator[None]:
    """Another session has a lock on a table that not even readers get past."""
    with psycopg.connect(url) as other:
        other.execute(f"LOCK TABLE {table} IN ACCESS EXCLUSIVE MODE".encode())
        yield
        other.rollback()


@contextmanager
def stopped(server: Postgres) -> Iterator[None]:
    """The server ends in good order, and starts again."""
    server.stop()
    yield
    server.start()


@contextmanager
def killed(server: Postgres) -> Iterator[None]:
    """The server is gone at once, and starts again."""
    server.kill()
    yield
    server.start()


@contextmanager
def frozen(server: Postgres) -> Iterator[None]:
    """The server stands still, while its machine still takes what is sent to it."""
    server.freeze()
    try:
        yield
    finally:
        server.thaw()


class Line:
    """A line to a port of this machine that can be slow, or go dead without anybody being told."""

    def __init__(self, port: int) -> None:
        self._to = port
        self._listener = socket.create_server(("127.0.0.1", 0), backlog=200)
        self.port = int(self._listener.getsockname()[1])
        self._selector = selectors.DefaultSelector()
        self._selector.register(self._listener, selectors.EVENT_READ)
        self._ends: dict[socket.socket, socket.socket] = {}
        self._delay_s = 0.0
        # When each is due, where it goes, and what; an empty piece is the end.
        self._on_its_way = deque[tuple[float, socket.socket, bytes]]()
        self._dead, self._closed = threading.Event(), threading.Event()
        self._thread = threading.Thread(target=self._carry, daemon=True)
        self._thread.start()

    @contextmanager
    def dead(self) -> Iterator[None]:
        """Nothing is carried: neither what is sent, nor that an end was closed.

        Connections of before stay dead afterwards, as behind a router that has forgotten them.
        """
        self._dead.set()
        yield
        for each in list(self._ends):
            with suppress(KeyError):
                self._selector.unregister(each)
        self._dead.clear()

    @contextmanager
    def slow(self, seconds: float) -> Iterator[None]:
        """Whatever is sent arrives so much later, in either direction."""
        self._delay_s = seconds
        yield
        self._delay_s = 0.0

    def close(self) -> None:
        """End it, with all connections."""
        self._closed.set()
        self._thread.join()
        for each in (*self._ends, self._listener):
            each.close()
        self._selector.close()

    def _carry(self) -> None:
        while not self._closed.is_set():
            for key, _ in self._selector.select(self._patience()):
                if self._dead.is_set():
                    # The kernel takes connections and bytes all the same.
                    self._closed.wait(0.05)
                elif key.fileobj is self._listener:
                    self._connect()
                elif isinstance(key.fileobj, socket.socket):
                    self._take(key.fileobj)
            self._deliver()

    def _patience(self) -> float:
        due = self._on_its_way[0][0] - time.monotonic() if self._on_its_way else 0.05
        return min(0.05, max(0.0, due))

    def _connect(self) -> None:
        near, _ = self._listener.accept()
        try:
            far = socket.create_connection(("127.0.0.1", self._to))
        except OSError:
            near.close()
            return
        for one, other in ((near, far), (far, near)):
            self._ends[one] = other
            self._selector.register(one, selectors.EVENT_READ)

    def _take(self, end: socket.socket) -> None:
        """Take what was sent; at its end, nothing more."""
        try:
            piece = end.recv(_PIECE)
        except OSError:
            piece = b""
        if not piece:
            # What was dead is forgotten already, by whoever ended that.
            with suppress(KeyError):
                self._selector.unregister(end)
        if (other := self._ends.get(end)) is not None:
            self._on_its_way.append((time.monotonic() + self._delay_s, other, piece))

    def _deliver(self) -> None:
        while self._on_its_way and self._on_its_way[0][0] <= time.monotonic():
            _, end, piece = self._on_its_way.popleft()
            if end not in self._ends:
                continue
            try:
                if piece:
                    end.sendall(piece)
                    continue
            except OSError:
                pass
            self._hang_up(end)

    def _hang_up(self, end: socket.socket) -> None:
        for each in (end, self._ends[end]):
            with suppress(KeyError):
                self._selector.unregister(each)
            self._ends.pop(each)
            each.close()


def may_mount() -> bool:
    """Whether a small disk can be had here."""
    try:
        with small_disk():
            return True
    except OSError:
        return False


def on_disk(server: Postgres, disk: Path, name: str) -> str:
    """The address of a new database of the server that lies on a disk."""
    os.chmod(disk, 0o700)  # noqa: PTH101 - of a mount point
    server.own(disk)
    with psycopg.connect(server.url(), autocommit=True) as connection:
        connection.execute(f"CREATE TABLESPACE {name} LOCATION '{disk}'".encode())
        connection.execute(f"CREATE DATABASE {name} TABLESPACE {name}".encode())
    return server.url(name)
