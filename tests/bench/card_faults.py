"""Cards while the machine works against the typesetter: no request may be answered with 500.

    python -m tests.bench.card_faults [--seconds N]

Four clients print a traveller at a time, or leave before its cards are there, while the
typesetter's processes are killed, told to end, or stopped for a moment, or while the service may
open no more files. Linux only.
"""

import argparse
import os
import random
import resource
import signal
import sys
import threading
import time
from collections import Counter
from collections.abc import Callable, Generator, Mapping
from contextlib import AbstractContextManager, contextmanager, suppress
from functools import partial
from http.client import HTTPConnection, HTTPException
from pathlib import Path
from typing import Final

import msgspec

from .server import Server, running

_CLIENTS: Final = 4
_PAUSE_S: Final = 0.1
_STOPPED_S: Final = 0.3
_PATIENCE_S: Final = 120
_MEDIA: Final = ("application/pdf", "image/png")
_ANSWERS: Final = ("200", "503", "500", "cut", "left")
"""A service that can open no more files accepts no connection, so some of its clients are cut."""
_TARGETS: Final = [{"ref": "10", "kind": "length", "length": "58.975"}]
_BODY: Final = msgspec.json.encode(
    {
        "unit": "mm",
        "sets": [{"id": "M", "composition": "metric-112-1", "grade": "1"}],
        "targets": _TARGETS,
    }
)


def main() -> None:
    """Print a table; ends with 1 if a request was answered in any other way than 200 and 503."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.card_faults", description=__doc__)
    parser.add_argument("--seconds", type=float, default=5)
    seconds: float = parser.parse_args().seconds
    print(f"| trouble | {' | '.join(_ANSWERS)} |\n| --- |{' ---: |' * len(_ANSWERS)}", flush=True)
    failed = False
    for name, trouble in _TROUBLES.items():
        with running() as server, trouble(server):
            seen = _asked(server.port, seconds, leaving=name == "clients leave")
        failed |= not seen or bool(seen["500"]) or not seen.keys() <= set(_ANSWERS)
        print(f"| {name} | {' | '.join(str(seen[each]) for each in _ANSWERS)} |", flush=True)
    sys.exit(failed)


def _asked(port: int, seconds: float, *, leaving: bool) -> Counter[str]:
    seen, end = Counter[str](), time.monotonic() + seconds

    def ask() -> None:
        while time.monotonic() < end:
            seen[_one(port, leaving=leaving and random.random() < 0.5)] += 1

    clients = [threading.Thread(target=ask) for _ in range(_CLIENTS)]
    for each in clients:
        each.start()
    for each in clients:
        each.join()
    return seen


def _one(port: int, *, leaving: bool) -> str:
    connection = HTTPConnection("127.0.0.1", port, timeout=_PATIENCE_S)
    headers = {"Content-Type": "application/json", "Accept": random.choice(_MEDIA)}
    try:
        connection.request("POST", "/v1/cards", _BODY, headers)
        if leaving:
            time.sleep(_PAUSE_S)
            return "left"
        return str(connection.getresponse().status)
    except (OSError, HTTPException):
        return "cut"
    finally:
        connection.close()


@contextmanager
def _signalled(server: Server, *, number: int) -> Generator[None, None, None]:
    """Half of the processes that the service starts get the signal."""
    over = threading.Event()

    def signals() -> None:
        while not over.wait(_PAUSE_S):
            for pid in _children(server.pid):
                if random.random() < 0.5:
                    with suppress(ProcessLookupError):
                        os.kill(pid, number)
                        if number == signal.SIGSTOP:
                            over.wait(_STOPPED_S)
                            os.kill(pid, signal.SIGCONT)

    thread = threading.Thread(target=signals)
    thread.start()
    try:
        yield
    finally:
        over.set()
        thread.join()


def _children(pid: int) -> list[int]:
    found: list[int] = []
    for task in Path(f"/proc/{pid}/task").iterdir():
        with suppress(OSError):
            found += map(int, (task / "children").read_text("ascii").split())
    return found


@contextmanager
def _few_files(server: Server) -> Generator[None, None, None]:
    """The service may open as many more as its clients need, and three."""
    opened = max(int(each.name) for each in Path(f"/proc/{server.pid}/fd").iterdir())
    _, most = resource.prlimit(server.pid, resource.RLIMIT_NOFILE)
    resource.prlimit(server.pid, resource.RLIMIT_NOFILE, (opened + _CLIENTS + 3, most))
    yield


@contextmanager
def _none(_: Server) -> Generator[None, None, None]:
    yield


_TROUBLES: Final[Mapping[str, Callable[[Server], AbstractContextManager[None]]]] = {
    "none": _none,
    "clients leave": _none,
    "killed": partial(_signalled, number=signal.SIGKILL),
    "told to end": partial(_signalled, number=signal.SIGTERM),
    "stopped": partial(_signalled, number=signal.SIGSTOP),
    "no more files": _few_files,
}

if __name__ == "__main__":
    main()
