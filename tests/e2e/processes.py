"""The real server: a process of its own on a free port of the loopback interface."""

import json
import os
import signal
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from typing import Any

import httpx
from prometheus_client.parser import text_string_to_metric_families

from patience import PATIENCE_S, PATIENT

ALONE = ("--solve-workers", "1", "--queue-length", "0")
"""One search at a time, and nobody waits."""


class Server:
    """A running server, its log, and how it ended."""

    def __init__(self, process: subprocess.Popen[str]) -> None:
        self._process = process
        self._changed = threading.Condition()
        self._lines: list[dict[str, Any]] = []
        self._ended = False
        self._reader = threading.Thread(target=self._read, daemon=True)
        self._reader.start()

    @property
    def address(self) -> str:
        """Where it listens; waits until it does."""
        return f"http://127.0.0.1:{self.logged('listening')['port']}"

    @property
    def pid(self) -> int:
        """Its process id."""
        return self._process.pid

    def client(self) -> httpx.Client:
        """A client that waits as long as a test may take."""
        return httpx.Client(base_url=self.address, timeout=PATIENCE_S)

    def logged(self, event: str, **members: object) -> dict[str, Any]:
        """The first line of that event with those members; waits for it."""

        def found() -> dict[str, Any] | None:
            wanted = {"event": event, **members}.items()
            return next((line for line in self._lines if wanted <= line.items()), None)

        with self._changed:
            self._changed.wait_for(lambda: found() or self._ended, PATIENCE_S)
            line = found()
        assert line is not None, (event, members, self._lines)
        return line

    def terminate(self, signal_number: int = signal.SIGTERM) -> None:
        """Send SIGTERM, or another signal."""
        self._process.send_signal(signal_number)

    def connect(self) -> socket.socket:
        """A bare connection, for what no client library would send."""
        host, _, port = self.address.removeprefix("http://").partition(":")
        return socket.create_connection((host, int(port)), PATIENCE_S)

    def log_text(self) -> str:
        """Every line that was read so far."""
        with self._changed:
            return json.dumps(self._lines)

    def exit_code(self) -> int:
        """How it ended; waits for its end, and for that of every process it has started."""
        code = self._process.wait(PATIENCE_S)
        # They write the same log, which ends with the last of them, and only its reader closes it:
        # closed by another thread it would fail in the middle of a line.
        self._reader.join(PATIENCE_S)
        assert not self._reader.is_alive()
        return code

    def memory_mb(self, which: str = "VmRSS") -> float:
        """Its resident memory; ``VmHWM`` is the most that it ever was."""
        with open(f"/proc/{self.pid}/status", encoding="utf-8") as status:  # noqa: PTH123
            line = next(line for line in status if line.startswith(which))
        return int(line.split()[1]) / 1024

    def _read(self) -> None:
        assert self._process.stdout
        with self._process.stdout as log:
            for text in log:
                with self._changed:
                    self._lines.append(json.loads(text))
                    self._changed.notify_all()
        with self._changed:
            self._ended = True
            self._changed.notify_all()


@contextmanager
def running(*flags: str, environment: Mapping[str, str] | None = None) -> Iterator[Server]:
    """A patient server with those flags of ``wrung serve``; it is ended by its process id."""
    command = [sys.executable, "-m", "wrung_service", "serve", "--port", "0", *flags]
    ours = {name: value for name, value in os.environ.items() if not name.startswith("WRUNG_")}
    process = subprocess.Popen(  # noqa: S603 - our own program
        command, env={**ours, **PATIENT, **(environment or {})}, stdout=subprocess.PIPE, text=True
    )
    server = Server(process)
    try:
        assert server.address
        yield server
    finally:
        process.kill()
        server.exit_code()


def first_that_is(status: int, ask: Callable[[], httpx.Response]) -> httpx.Response:
    """Ask until the answer has that status."""
    end = time.monotonic() + PATIENCE_S
    while (response := ask()).status_code != status:
        assert time.monotonic() < end, response.text
        time.sleep(0.02)
    return response


def wait_until(true: Callable[[], bool]) -> None:
    """Look until it is so."""
    end = time.monotonic() + PATIENCE_S
    while not true():
        assert time.monotonic() < end
        time.sleep(0.02)


def held(client: httpx.Client) -> int:
    """How many requests run or wait."""
    families = text_string_to_metric_families(client.get("/metrics").text)
    values = {family.name: family.samples[0].value for family in families if family.samples}
    return int(values["wrung_workers_busy"] + values["wrung_queue_length"])


def solved(client: httpx.Client, body: dict[str, Any]) -> httpx.Response:
    """Post a body until it is solved; it may have to wait for its turn."""
    return first_that_is(200, lambda: client.post("/v1/stacks", json=body))
