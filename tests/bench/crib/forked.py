"""The real service again and again, without loading its packages each time.

That takes two seconds of CPU time, and a hundred services are killed. So all is loaded once, and
each service is a copy of that process from there on.
"""

import os
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from multiprocessing import get_context
from multiprocessing.context import ForkProcess
from typing import IO

import msgspec

from wrung_service.app import create_app
from wrung_service.running import serve
from wrung_service.settings import Settings
from wrung_service.settings_reading import read_settings

_FORK = get_context("fork")
_WAIT_S = 120


def load_service() -> None:
    """Load what a service needs, tables included, before the first is started."""
    create_app(Settings(solve_workers=1))


@contextmanager
def forked(url: str) -> Iterator[tuple[str, ForkProcess]]:
    """A service on a store, and its process; killed at the end if it still runs."""
    reading, writing = os.pipe()
    process = _FORK.Process(target=_serve, args=(url, writing))
    process.start()
    os.close(writing)
    with os.fdopen(reading, "rb") as lines:
        address = next(
            said["url"] for said in map(msgspec.json.decode, lines) if said["event"] == "listening"
        )
        rest = threading.Thread(target=_drain, args=(lines,))
        rest.start()
        try:
            yield address.rstrip("/"), process
        finally:
            process.kill()
            process.join(_WAIT_S)
            # No thread may run when the next one is copied.
            rest.join(_WAIT_S)


def _serve(url: str, output: int) -> None:
    os.dup2(output, sys.__stdout__.fileno() if sys.__stdout__ else 1)
    os.close(output)
    flags = {
        "bind_port": "0",
        "solve_workers": "2",
        "queue_length": "1000",
        "store_url": url,
    }
    serve(read_settings({}, flags))


def _drain(lines: IO[bytes]) -> None:
    for _ in lines:
        pass
