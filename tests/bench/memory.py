"""How much memory the real service holds: the largest requests, one on every worker at a time.

    python -m tests.bench.memory [--workers N] [--limit-ms N] [--kinds TEXT] [--targets N]
    python -m tests.bench.memory --container IMAGE ...

The service is a process of its own, or runs in a container that may hold what is published and no
more: `BASE_MB`, and for every worker the memory of one search. The peak of its resident memory
(VmHWM of /proc, so Linux only) is set back before each kind of request and held against that. It
fails if that is exceeded, if anything was killed, or if an answer is a fault of ours. How soon
`/livez` answers meanwhile is told, but does not fail: other work on the machine counts.
"""

import argparse
import json
import os
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import AbstractContextManager
from functools import partial
from http.client import HTTPConnection, HTTPException
from typing import Final, TypeAlias

from msgspec import Struct

from wrung.memory import DEFAULT_MEMORY_MB

from .container import contained
from .probe import LATENCY_HEAD, Latencies, probing
from .server import Server, running
from .worst import KINDS, TARGETS, Size, Worst, worst

BASE_MB: Final = 220
"""Of the service that searches nothing: code, tables kept between requests, bodies and answers."""
_PATIENCE_S: Final = 600
_SECONDS_TO_GIVE_BACK: Final = 1.0
"""That is done after the answer."""
_CUT: Final = "cut"
Ask: TypeAlias = Callable[[], tuple[str, ...]]
"""Asks on all workers, and gives the outcomes."""
_HEAD: Final = (
    "| request | outcomes | peak, MB | after, MB | container's peak, MB "
    f"| {LATENCY_HEAD} |\n| --- | --- | ---: | ---: | ---: | ---: | ---: | ---: |"
)


class Held(Struct, frozen=True, kw_only=True):
    """One kind of request on all workers: what they said, and the memory of the process, MB."""

    name: str
    outcomes: tuple[str, ...] = ()
    peak_mb: float
    after_mb: float
    container_mb: float | None = None
    """All that the kernel counts for the container, files in its cache among it."""
    livez: Latencies


def published_mb(workers: int) -> int:
    """What the service needs."""
    return BASE_MB + workers * DEFAULT_MEMORY_MB


def main() -> None:
    """Ask, print, judge."""
    arguments = _arguments()
    published = published_mb(arguments.workers)
    load, cpus = os.getloadavg()[0], os.cpu_count()
    print(f"Measured on {time.strftime('%Y-%m-%d')}, {cpus} CPUs, load {load:.1f} before.")
    print(f"{arguments.workers} workers, {arguments.limit_ms} ms; published: {published} MB\n")
    print(_HEAD)
    with _service(arguments) as server:
        found = [_shown(_held(server, name, ask)) for name, ask in _asked(server, arguments)]
    if any(each.peak_mb > published or not _answered(each.outcomes) for each in found):
        sys.exit("too much memory, or no answer")


def _service(arguments: argparse.Namespace) -> AbstractContextManager[Server]:
    settings = {
        "WRUNG_SOLVE_WORKERS": str(arguments.workers),
        "WRUNG_MAX_TIME_LIMIT_MS": str(max(arguments.limit_ms, 2000)),
    }
    if arguments.container:
        return contained(arguments.container, published_mb(arguments.workers), settings)
    return running(settings=settings)


def _asked(server: Server, arguments: argparse.Namespace) -> Iterator[tuple[str, Ask]]:
    """Nothing at first, then the kinds."""
    yield "none as yet", tuple
    size = Size(targets=arguments.targets)
    for name in KINDS:
        if arguments.kinds in name:
            yield name, partial(_ask, server, worst(name, size), arguments)


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(
        prog="python -m tests.bench.memory",
        description=__doc__,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--limit-ms", type=int, default=15_000, help="time limit of each request")
    parser.add_argument(
        "--targets", type=int, default=TARGETS, help="fewer may hold more: models that fit are made"
    )
    parser.add_argument("--container", metavar="IMAGE", help="in a container with that much memory")
    parser.add_argument("--kinds", default="", help="only those whose names hold this text")
    return parser.parse_args()


def _held(server: Server, name: str, ask: Ask) -> Held:
    """Ask, and look meanwhile; it ends here if the service did not bear it."""
    server.set_peaks_back()
    with probing(server.port) as probe:
        outcomes = ask()
        time.sleep(_SECONDS_TO_GIVE_BACK)
    if fault := server.fault():
        sys.exit(f"{name}: {', '.join(outcomes)}: {fault}")
    return Held(
        name=name,
        outcomes=outcomes,
        peak_mb=server.peak_megabytes(),
        after_mb=server.megabytes(),
        container_mb=server.cgroup.peak_mb() if server.cgroup is not None else None,
        livez=probe.latencies,
    )


def _ask(server: Server, asked: Worst, arguments: argparse.Namespace) -> tuple[str, ...]:
    body = json.dumps({**asked.body, "time_limit_ms": arguments.limit_ms})
    with ThreadPoolExecutor(arguments.workers) as clients:
        posts = [clients.submit(_post, server, asked.path, body) for _ in range(arguments.workers)]
        return tuple(post.result() for post in posts)


def _post(server: Server, path: str, body: str) -> str:
    """The outcome; the status where it is no answer."""
    connection = HTTPConnection("127.0.0.1", server.port, timeout=_PATIENCE_S)
    try:
        connection.request("POST", path, body, {"Content-Type": "application/json"})
        response = connection.getresponse()
        answer = json.loads(response.read())
    except (OSError, HTTPException):
        return _CUT
    else:
        good = response.status == 200
        return str(answer.get("outcome", "judged")) if good else str(response.status)
    finally:
        connection.close()


def _answered(outcomes: Sequence[str]) -> bool:
    return not any(outcome.startswith(("4", "5", _CUT)) for outcome in outcomes)


def _shown(one: Held) -> Held:
    """Print its row."""
    container = "" if one.container_mb is None else f"{one.container_mb:.0f}"
    memory = f"{one.peak_mb:.0f} | {one.after_mb:.0f} | {container}"
    print(
        f"| {one.name} | {', '.join(one.outcomes)} | {memory} | {one.livez.cells()} |", flush=True
    )
    return one


if __name__ == "__main__":
    main()
