"""Asks ``/livez`` again and again, in a process of its own so that no load slows its clock."""

import multiprocessing
import time
from collections.abc import Iterator
from contextlib import contextmanager
from http.client import HTTPConnection, HTTPException
from multiprocessing.connection import Connection

from msgspec import Struct

_PAUSE_S = 0.01
_PATIENCE_S = 60
LATENCY_HEAD = "`/livez` median, ms | 99th percentile, ms | worst, ms"


class Latencies(Struct, frozen=True):
    """What the probe saw, ms."""

    answers: tuple[float, ...]
    failures: int

    def percentile(self, share: float) -> float:
        """The time within which that share of the answers came."""
        ordered = sorted(self.answers) or [float("nan")]
        return ordered[min(len(ordered) - 1, int(share * len(ordered)))]

    def cells(self) -> str:
        """For a row of a table under `LATENCY_HEAD`."""
        return " | ".join(f"{self.percentile(share):.1f}" for share in (0.5, 0.99, 1.0))


class Probe:
    """A probe that runs; `latencies` is known once it has ended."""

    latencies = Latencies((), 0)


@contextmanager
def probing(port: int) -> Iterator[Probe]:
    """Ask while the block runs."""
    context = multiprocessing.get_context("spawn")
    ours, theirs = context.Pipe()
    process = context.Process(target=_ask, args=(port, theirs))
    process.start()
    probe = Probe()
    assert ours.recv() == "begun"
    try:
        yield probe
    finally:
        ours.send("end")
        probe.latencies = ours.recv()
        process.join(_PATIENCE_S)


def _ask(port: int, told: Connection) -> None:
    answers: list[float] = []
    failures = 0
    connection = HTTPConnection("127.0.0.1", port, timeout=_PATIENCE_S)
    told.send("begun")
    while not told.poll(_PAUSE_S):
        start = time.perf_counter()
        try:
            connection.request("GET", "/livez")
            connection.getresponse().read()
        except (OSError, HTTPException):
            failures += 1
            connection.close()
        else:
            answers.append((time.perf_counter() - start) * 1000)
    told.send(Latencies(tuple(answers), failures))
