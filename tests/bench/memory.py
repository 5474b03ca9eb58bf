"""How much memory the real service holds: the largest requests, one on every worker at a time.

    python -m tests.bench.memory [--workers N] [--limit-ms N] [--kinds TEXT] [--targets N]

The service is a process of its own. Its peak of resident memory (VmHWM of /proc, so Linux only) is
set back before each kind of request and held against what is published: `BASE_MB`, and for every
worker the memory of one search. It fails if that is exceeded, or if an answer is a fault of ours.
"""

import argparse
import json
import sys
import time
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from http.client import HTTPConnection
from pathlib import Path
from typing import Final

from msgspec import Struct

from wrung.memory import DEFAULT_MEMORY_MB

from .server import Server, running
from .worst import KINDS, TARGETS, Size, Worst, worst

BASE_MB: Final = 220
"""Of the service that searches nothing: code, tables kept between requests, bodies and answers."""
_PATIENCE_S: Final = 600
_SECONDS_TO_GIVE_BACK: Final = 1.0
"""That is done after the answer."""


class Held(Struct, frozen=True, kw_only=True):
    """One kind of request on all workers: what they said, and the memory of the process, MB."""

    name: str
    outcomes: tuple[str, ...]
    peak_mb: float
    after_mb: float


def main() -> None:
    """Ask, print, judge."""
    arguments = _arguments()
    published = BASE_MB + arguments.workers * DEFAULT_MEMORY_MB
    settings = {
        "WRUNG_SOLVE_WORKERS": str(arguments.workers),
        "WRUNG_MAX_TIME_LIMIT_MS": str(max(arguments.limit_ms, 2000)),
    }
    print(f"{arguments.workers} workers, {arguments.limit_ms} ms; published: {published} MB\n")
    print("| request | outcomes | peak, MB | after, MB |\n| --- | --- | ---: | ---: |")
    found: list[Held] = []
    size = Size(targets=arguments.targets)
    with running(settings=settings) as server:
        print(f"| none as yet | | {server.peak_megabytes():.0f} | {_resident(server):.0f} |")
        for name in KINDS:
            if arguments.kinds in name:
                found.append(_ask(server, worst(name, size), arguments))
                print(_line(found[-1]), flush=True)
    if any(each.peak_mb > published or not _answered(each.outcomes) for each in found):
        sys.exit("too much memory, or no answer")


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
    parser.add_argument("--kinds", default="", help="only those whose names hold this text")
    return parser.parse_args()


def _ask(server: Server, asked: Worst, arguments: argparse.Namespace) -> Held:
    # 5 sets the peak back to what is held now, see proc(5).
    Path(f"/proc/{server.pid}/clear_refs").write_text("5", encoding="ascii")
    body = json.dumps({**asked.body, "time_limit_ms": arguments.limit_ms})
    with ThreadPoolExecutor(arguments.workers) as clients:
        posts = [clients.submit(_post, server, asked.path, body) for _ in range(arguments.workers)]
        outcomes = tuple(post.result() for post in posts)
    time.sleep(_SECONDS_TO_GIVE_BACK)
    return Held(
        name=asked.name,
        outcomes=outcomes,
        peak_mb=server.peak_megabytes(),
        after_mb=_resident(server),
    )


def _post(server: Server, path: str, body: str) -> str:
    """The outcome; the status where it is no answer."""
    connection = HTTPConnection("127.0.0.1", server.port, timeout=_PATIENCE_S)
    try:
        connection.request("POST", path, body, {"Content-Type": "application/json"})
        response = connection.getresponse()
        answer = json.loads(response.read())
        return (
            str(answer.get("outcome", "judged")) if response.status == 200 else str(response.status)
        )
    finally:
        connection.close()


def _answered(outcomes: Sequence[str]) -> bool:
    return not any(outcome.startswith(("4", "5")) for outcome in outcomes)


def _resident(server: Server) -> float:
    status = Path(f"/proc/{server.pid}/status").read_text(encoding="ascii")
    return int(status.partition("VmRSS:")[2].split()[0]) / 1000


def _line(one: Held) -> str:
    return f"| {one.name} | {', '.join(one.outcomes)} | {one.peak_mb:.0f} | {one.after_mb:.0f} |"


if __name__ == "__main__":
    main()
