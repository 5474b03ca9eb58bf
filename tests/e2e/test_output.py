"""Standard output that nobody reads, or that is closed: the service goes on, and ends well."""

import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager

import httpx
import pytest

from bench.ports import free_port
from patience import PATIENCE_S
from service.bodies import request

_PIPE_HOLDS = 65_536


@contextmanager
def serving(shell: str = "", stdout: int | None = None) -> Iterator[tuple[httpx.Client, int]]:
    """A client of a server with that standard output, and the server's process id."""
    port = free_port()
    program = f"exec {sys.executable} -m wrung_service serve --port {port} {shell}"
    with subprocess.Popen(["sh", "-c", program], stdout=stdout) as process:  # noqa: S603, S607 - our own
        try:
            transport = httpx.HTTPTransport(retries=10)
            address = f"http://127.0.0.1:{port}"
            with httpx.Client(base_url=address, transport=transport, timeout=PATIENCE_S) as client:
                yield client, process.pid
            process.send_signal(signal.SIGTERM)
            assert process.wait(PATIENCE_S) == 0
        finally:
            process.kill()


def asked(client: httpx.Client) -> None:
    """Enough requests for their lines to fill any pipe."""
    headers = {"X-Request-ID": "x" * 64}
    for _ in range(_PIPE_HOLDS // 200):
        assert client.get("/v1/limits", headers=headers).status_code == 200
    assert client.post("/v1/stacks", json=request()).status_code == 200


def test_a_pipe_that_nobody_reads_stops_nothing() -> None:
    """Neither requests nor the end."""
    reading, writing = os.pipe()
    try:
        with serving(stdout=writing) as (client, _):
            asked(client)
    finally:
        os.close(reading)
        os.close(writing)


def test_a_pipe_whose_reader_is_gone_stops_nothing() -> None:
    """Lines are lost, nothing else."""
    reading, writing = os.pipe()
    with serving(stdout=writing) as (client, _):
        asked(client)
        os.close(reading)
        os.close(writing)
        asked(client)


@pytest.mark.parametrize("closed", [">&-", ">&- 2>&-", "<&- >&- 2>&-"])
def test_a_process_without_output_serves(closed: str) -> None:
    """And no line ends up in a socket that got the number of standard output."""
    with serving(closed) as (client, _):
        asked(client)
