"""What one request costs each part of an installation, and how many a second there are."""

import json
import os
import time
from collections.abc import Callable, Sequence
from pathlib import Path

import httpx
import psycopg
from msgspec import Struct

from bench.cluster.installation import BLOCKS, Installation, installed
from bench.crib.served import MM, plan_of
from bench.load import throughput
from bench.payloads import SMALL
from bench.server import cpu_seconds
from wrung.lengths import to_text

CLIENTS = 8
_SECONDS = 4.0
_BATCH = 3000
_PLANS = 2000
_FIRST = 400
"""More than are answered in a second, as no plan may be asked for twice."""
_SITES = [f"site-{n}" for n in range(8)]


class Point(Struct, frozen=True, kw_only=True):
    """One measured point; CPU times are those of a request, ms.

    Attributes:
        kind: what was asked for: ``stacks``, ``plans`` or ``batches``.
        processes: services, or workers of batches.
        sites: how many the plans are for, in turn.
        threads: searches at one time in each.
        cpus: how many CPUs all of it used on average.
        connections: to the database, of all processes.
    """

    kind: str
    processes: int
    threads: int
    clients: int
    sites: int
    per_second: float
    service_ms: float
    database_ms: float
    balancer_ms: float
    client_ms: float
    cpus: float
    connections: int


def measured() -> list[Point]:
    """All points, in a few minutes."""
    points: list[Point] = []
    for replicas, threads in ((1, 1), (1, 2), (1, 4), (2, 1), (3, 1)):
        with installed(
            replicas=replicas, workers=0, threads=threads, sites=_SITES, by_line=False
        ) as of:
            _spread(of)
            numbers = [1, CLIENTS] if replicas == threads == 1 else [CLIENTS]
            for turn, clients in enumerate(numbers):
                size = (threads, clients, 1)
                points.append(_loaded(of, "stacks", [SMALL], size))
                points.append(_loaded(of, "plans", _plans(turn, 1), size))
            bodies = _plans(len(numbers), len(_SITES))
            points.append(_loaded(of, "plans", bodies, (threads, CLIENTS, len(_SITES))))
    for workers in (1, 2, 4):
        with installed(replicas=1, workers=workers, by_line=False) as of:
            _spread(of)
            points.append(_batch(of, workers))
    return points


def _spread(of: Installation) -> None:
    """One CPU for all threads of a process, the next for the next; Linux only."""
    cpus = os.cpu_count() or 1
    for n, each in enumerate((*of.workers, *of.replicas)):
        for thread in Path(f"/proc/{each.pid}/task").iterdir():
            os.sched_setaffinity(int(thread.name), {n % cpus})


def _loaded(
    of: Installation, kind: str, bodies: Sequence[bytes], size: tuple[int, int, int]
) -> Point:
    """The first bodies warm the services up."""

    def post(some: Sequence[bytes], seconds: float) -> int:
        load = throughput(of.port, some, clients=size[1], seconds=seconds, path=f"/v1/{kind}")
        assert not load.refused, (kind, load)
        return load.requests

    post(bodies[:_FIRST], 1)
    rest = bodies[_FIRST:] or bodies
    return _point(of, kind, (len(of.replicas), *size), lambda: post(rest, _SECONDS))


def _batch(of: Installation, workers: int) -> Point:
    """A first batch warms the workers up."""

    def work(number: int) -> int:
        with httpx.Client(base_url=of.address, timeout=60) as session:
            body = {"requests": [json.loads(SMALL)] * number}
            where = session.post("/v1/batches", json=body).headers["Location"]
            while session.get(where).json()["state"] != "done":
                time.sleep(0.05)
        return number

    work(_FIRST)
    return _point(of, "batches", (workers, 1, 1, 1), lambda: work(_BATCH))


def _point(
    of: Installation, kind: str, size: tuple[int, int, int, int], work: Callable[[], int]
) -> Point:
    before, began = _cpu_s(of), time.monotonic()
    done = work()
    took, after = time.monotonic() - began, _cpu_s(of)
    used = {part: after[part] - before[part] for part in after}
    processes, threads, clients, sites = size
    with psycopg.connect(of.database) as connection:
        row = connection.execute(
            "SELECT count(*) FROM pg_stat_activity WHERE backend_type = 'client backend'"
        ).fetchone()
    return Point(
        kind=kind,
        processes=processes,
        threads=threads,
        clients=clients,
        sites=sites,
        per_second=done / took,
        **{f"{part}_ms": 1000 * each / done for part, each in used.items()},
        cpus=sum(used.values()) / took,
        # All but our own.
        connections=row[0] - 1 if row else 0,
    )


def _cpu_s(of: Installation) -> dict[str, float]:
    """CPU time so far, s, of each part."""
    with psycopg.connect(of.database) as connection:
        found = connection.execute("SELECT pid FROM pg_stat_activity").fetchall()
    ours = [each.pid for each in (*of.replicas, *of.workers)]
    return {
        "service": sum(map(cpu_seconds, ours)),
        "database": sum(cpu_seconds(pid) for (pid,) in found),
        "balancer": cpu_seconds(of.balancer_pid),
        "client": time.process_time(),
    }


def _plans(turn: int, sites: int) -> list[bytes]:
    """Plans that take nothing from each other, nor from those of another turn."""
    bodies = list[bytes]()
    for n in range(turn * _PLANS, (turn + 1) * _PLANS):
        body = plan_of(n, to_text((100 + n % BLOCKS) * MM // 10, "mm"), n // BLOCKS)
        body["crib"]["site"] = _SITES[n % sites]
        bodies.append(json.dumps(body).encode())
    return bodies
