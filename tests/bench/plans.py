"""Whether plans keep what they promise, under load and under kill -9, and what they cost.

``python -m tests.bench.plans race``: 500 plans at one time on 20 blocks, on both databases.
``python -m tests.bench.plans kill --rounds 100``: kill -9 at random moments while plans are made.
``python -m tests.bench.plans cost``: a plan beside the same stateless request, with 10,000 plans
and 50 sets in the store, and the free blocks of 5,000.

Each prints a table for deploy/RESULTS.md, and fails where something does not hold.
"""

import argparse
import json
import os
import random
import shutil
import signal
import sqlite3
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from collections import Counter
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[1]))

import httpx
import sqlalchemy as sa

from postgres import running_postgres
from store.rows import SITE, START, add_block, add_plan, add_set, add_site, hours
from wrung.compositions import composition
from wrung.lengths import to_text
from wrung_service.store import tables
from wrung_service.store.engine import Store
from wrung_service.store.migrating import migrate
from wrung_service.usecases.crib_shelf import CribWanted, Window
from wrung_service.usecases.look_up_crib import look_up_crib

OVERLAPS = """SELECT count(*) FROM promise a JOIN promise b ON a.site_id = b.site_id
  AND a.block_id = b.block_id AND a.n < b.n AND a.released_at IS NULL AND b.released_at IS NULL
  AND a.starts_at < b.ends_at AND b.starts_at < a.ends_at"""
MM = 100_000_000


@contextmanager
def databases(*, durable: bool = True) -> Iterator[dict[str, str]]:
    """An empty store on each database, with what a power failure needs."""
    folder = Path(tempfile.mkdtemp(prefix="wrung-bench-"))
    try:
        with running_postgres(durable=durable) as server:
            urls = {"SQLite": f"sqlite:///{folder}/crib.db", "PostgreSQL": server.url()}
            for url in urls.values():
                migrate(url)
            yield urls
    finally:
        shutil.rmtree(folder, ignore_errors=True)


@contextmanager
def served(
    url: str, *, workers: int = 2, lines: list[dict[str, Any]] | None = None
) -> Iterator[tuple[str, "subprocess.Popen[bytes]"]]:
    """The real service on that store."""
    process = subprocess.Popen(  # noqa: S603 - our own service
        [
            sys.executable,
            "-m",
            "wrung_service",
            "serve",
            "--port",
            "0",
            "--solve-workers",
            str(workers),
            "--queue-length",
            "1000",
            "--max-blocks",
            "10000",
            "--max-connections",
            "2000",
            "--store-url",
            url,
        ],
        stdout=subprocess.PIPE,
    )
    try:
        assert process.stdout
        for line in process.stdout:
            said = json.loads(line)
            if said["event"] == "listening":
                break
        kept = [] if lines is None else lines
        threading.Thread(
            target=lambda: kept.extend(map(json.loads, process.stdout or ())), daemon=True
        ).start()
        yield said["url"].rstrip("/"), process
    finally:
        if process.poll() is None:
            process.send_signal(signal.SIGTERM)
            process.wait(60)
        if process.stdout:
            process.stdout.close()


def plan_of(number: int, length: str, start: float, **members: object) -> dict[str, Any]:
    """The body of a plan for an hour."""
    return {
        "unit": "mm",
        "crib": {
            "site": SITE,
            "needed_from": hours(start).isoformat(),
            "needed_until": hours(start + 1).isoformat(),
        },
        "job": f"job-{number}",
        "time_limit_ms": 60_000,
        "targets": [{"kind": "length", "ref": "t", "length": length}],
        **members,
    }


def counted(url: str, statement: str) -> int:
    """What a query counts, by a connection of its own and none of our code."""
    engine = sa.create_engine(url.replace("postgresql://", "postgresql+psycopg://"))
    with engine.connect() as connection:
        found = int(connection.exec_driver_sql(statement).scalar_one())
    engine.dispose()
    return found


def race() -> None:
    """500 plans at one time for the 20 blocks of 20 lengths, in three hours."""
    print("| 500 plans at once, 20 blocks | kept | refused | busy | other | overlaps | lost | s |")
    print("| --- | ---: | ---: | ---: | ---: | ---: | ---: | ---: |")
    with databases() as urls:
        for name, url in urls.items():
            print(f"| {name} | {' | '.join(map(str, _raced(url)))} |", flush=True)


def _raced(url: str) -> list[object]:
    store = Store(url)
    with store.writing() as connection:
        add_site(connection)
        for number in range(20):
            add_block(connection, f"b{number}", nominal=(100 + number) * MM // 10)
    store.close()
    chance = random.Random(7)
    bodies = [
        plan_of(n, to_text((100 + chance.randrange(20)) * MM // 10, "mm"), chance.randrange(3))
        for n in range(500)
    ]
    with served(url) as (address, _), httpx.Client(timeout=300, limits=_MANY) as client:
        began = time.perf_counter()
        with ThreadPoolExecutor(500) as threads:
            answers = list(
                threads.map(lambda body: client.post(f"{address}/v1/plans", json=body), bodies)
            )
        took = time.perf_counter() - began
    status = Counter(answer.status_code for answer in answers)
    kept = {answer.json()["id"] for answer in answers if answer.status_code == 201}
    lost = len(kept - set(_ids(url)))
    overlaps = counted(url, OVERLAPS)
    stored = counted(url, "SELECT count(*) FROM plan")
    assert overlaps == 0 == lost
    assert stored == len(kept) == status[201]
    assert sum(status.values()) == 500
    other = 500 - status[201] - status[409] - status[503]
    return [status[201], status[409], status[503], other, overlaps, lost, f"{took:.1f}"]


_MANY = httpx.Limits(max_connections=600, max_keepalive_connections=600)


def _ids(url: str) -> list[str]:
    store = Store(url)
    with store.reading() as connection:
        found = list(connection.execute(sa.select(tables.plan.c.id)).scalars())
    store.close()
    return found


def kill(rounds: int) -> None:
    """The service is killed at a random moment under write load, again and again."""
    print(f"| {rounds} times kill -9 | acknowledged | lost | half | overlaps | integrity |")
    print("| --- | ---: | ---: | ---: | ---: | --- |")
    with databases() as urls:
        for name, url in urls.items():
            print(f"| {name} | {' | '.join(map(str, _killed(url, rounds)))} |", flush=True)


def _killed(url: str, rounds: int) -> list[object]:
    store = Store(url)
    with store.writing() as connection:
        add_site(connection)
        for number in range(8):
            add_block(connection, f"b{number}", nominal=(100 + number) * MM // 10)
    store.close()
    chance, acknowledged, numbers = random.Random(11), set[str](), iter(range(10_000_000))
    for _ in range(rounds):
        with served(url) as (address, process):
            moment = threading.Timer(chance.uniform(0.05, 1.0), process.kill)
            moment.start()
            _load(address, acknowledged, numbers)
            process.wait(60)
    lost = acknowledged - set(_ids(url))
    half = counted(
        url,
        "SELECT count(*) FROM plan p WHERE p.state = 'planned' AND (SELECT count(*) FROM promise q "
        "WHERE q.plan_id = p.id) <> 1 OR NOT EXISTS (SELECT 1 FROM history h WHERE "
        "h.subject = p.id)",
    )
    overlaps, integrity = counted(url, OVERLAPS), _integrity(url)
    assert not lost
    assert half == overlaps == 0
    assert integrity == "ok"
    return [len(acknowledged), len(lost), half, overlaps, integrity]


def _load(address: str, acknowledged: set[str], numbers: "Iterator[int]") -> None:
    """Four clients that make plans until the service is gone."""

    def client() -> None:
        with httpx.Client(timeout=10) as session:
            while True:
                number = next(numbers)
                length = to_text((100 + number % 8) * MM // 10, "mm")
                try:
                    answer = session.post(
                        f"{address}/v1/plans", json=plan_of(number, length, number // 8)
                    )
                except httpx.HTTPError:
                    return
                if answer.status_code == 201:
                    acknowledged.add(answer.json()["id"])

    threads = [threading.Thread(target=client) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()


def _integrity(url: str) -> str:
    if not url.startswith("sqlite"):
        return "ok"
    connection = sqlite3.connect(url.removeprefix("sqlite:///"))
    said = str(connection.execute("PRAGMA integrity_check").fetchone()[0])
    connection.close()
    return said


def cost() -> None:
    """A plan and the same stateless request, in turn, with a full store."""
    print(
        "| 10,000 plans, 50 sets | stateless, ms | plan, ms | more, ms | more CPU, ms "
        "| fsync, ms | free of 5,000, ms | CPU, ms | after a change, ms | CPU, ms "
        "| issue, ms | return, ms | what is out, ms |"
    )
    print(f"| --- |{' ---: |' * 12}")
    with databases() as urls:
        for name, url in urls.items():
            print(f"| {name} | {' | '.join(_cost(url))} |", flush=True)


def _cost(url: str, times: int = 60) -> list[str]:
    store = Store(url)
    _fill(store)
    looked = _looked(store)
    lines: list[dict[str, Any]] = []
    with served(url, lines=lines) as (address, _), httpx.Client(timeout=60) as client:
        shelf = [
            {"id": f"set-0/{to_text(each, 'mm')}", "nominal": to_text(each, "mm"), "grade": "1"}
            for each in composition("metric-103").nominals
        ]

        def stateless(number: int) -> None:
            body = plan_of(number, _length(number), number)
            sent = {"unit": "mm", "blocks": shelf, "targets": body["targets"], "record": True}
            answer = client.post(f"{address}/v1/stacks", json=sent)
            assert answer.json()["outcome"] == "optimal", answer.text

        def planned(number: int) -> None:
            body = plan_of(number, _length(number), 20_000 + number)
            body["crib"]["sets"] = ["set-0"]
            answer = client.post(f"{address}/v1/plans", json=body)
            assert answer.status_code == 201, answer.text

        for number in range(5):
            stateless(number)
            planned(1000 + number)
        # In turn, so that whatever else the machine does meets both.
        pairs = [(_timed(stateless, n), _timed(planned, n)) for n in range(times)]
        scans = _scanned(client, f"{address}/v1/sites/{SITE}")
    store.close()
    plain, plan = (statistics.median(each) for each in zip(*pairs, strict=True))
    more = statistics.median(b - a for a, b in pairs)
    cpu = _cpu(lines, "/v1/plans") - _cpu(lines, "/v1/stacks")
    return [f"{each:.1f}" for each in (plain, plan, more, cpu, _fsync(), *looked, *scans)]


def _scanned(client: httpx.Client, site: str) -> list[float]:
    """Median times of a block that goes out and comes back, and of the list of what is out."""

    def issue(number: int) -> None:
        body = {"blocks": [f"set-{number}/1.01"], "borrower": "bench"}
        assert client.post(f"{site}/issues", json=body).status_code == 200

    def take_back(number: int) -> None:
        body = {"blocks": [{"id": f"set-{number}/1.01"}]}
        assert client.post(f"{site}/returns", json=body).status_code == 200

    def look(_: int) -> None:
        assert client.get(f"{site}/blocks", params={"out": "true"}).json()["blocks"]

    times = [[_timed(each, n) for each in (issue, look, take_back)] for n in range(30)]
    out, looked, back = (statistics.median(each) for each in zip(*times, strict=True))
    return [out, back, looked]


def _looked(store: Store) -> list[float]:
    """Median times of looking for free blocks: as it is, and just after a block was changed."""
    unchanged, changed = list[tuple[float, float]](), list[tuple[float, float]]()
    _free(store)
    for number in range(20):
        unchanged.append(_free(store))
        with store.writing() as connection:
            one = tables.block.c.id == f"set-{number}/1.01"
            connection.execute(
                sa.update(tables.block).where(one).values(version=tables.block.c.version + 1)
            )
        changed.append(_free(store))
    return [
        statistics.median(each)
        for each in (*zip(*unchanged, strict=True), *zip(*changed, strict=True))
    ]


def _cpu(lines: list[dict[str, Any]], route: str) -> float:
    """CPU time of the threads that answered, as the service logged it."""
    return float(statistics.median(e["cpu_ms"] for e in lines if e.get("route") == route))


def _length(number: int) -> str:
    return f"{12 + number % 50}.345"


def _timed(work: Callable[[int], None], number: int) -> float:
    began = time.perf_counter()
    work(number)
    return (time.perf_counter() - began) * 1000


def _free(store: Store) -> tuple[float, float]:
    """The time that it takes, and the CPU time, ms."""
    window = Window(starts_at=hours(5), ends_at=hours(6))
    began, cpu = time.perf_counter(), time.process_time()
    found = look_up_crib(store, CribWanted(site=SITE, window=window), now=START)
    took = (time.perf_counter() - began) * 1000, (time.process_time() - cpu) * 1000
    assert len(found.blocks) > 5000
    return took


def _fsync() -> float:
    """What the disk itself takes to keep a page, ms."""
    with tempfile.NamedTemporaryFile() as file:

        def keep(_: int) -> None:
            file.write(b"x" * 4096)
            file.flush()
            os.fsync(file.fileno())

        return statistics.median(_timed(keep, n) for n in range(50))


def _fill(store: Store) -> None:
    """Fifty sets, some 5,000 blocks, and 10,000 plans of two blocks each."""
    nominals = composition("metric-103").nominals
    names: list[str] = []
    with store.writing() as connection:
        add_site(connection)
        for number in range(50):
            add_set(connection, f"set-{number}")
            for nominal in nominals:
                name = f"set-{number}/{to_text(nominal, 'mm')}"
                if name not in names[-len(nominals) :]:
                    names.append(name)
                    add_block(connection, name, nominal=nominal, set_id=f"set-{number}")
    for first in range(0, 10_000, 500):
        with store.writing() as connection:
            for number in range(first, first + 500):
                _add_plan(connection, number, names)


def _add_plan(connection: sa.Connection, number: int, names: list[str]) -> None:
    start, pair = number // 25, number % 25 * 2
    answer = json.dumps({"stacks": [], "filler": "x" * 4000})
    add_plan(
        connection,
        f"plan-{number}",
        starts_at=hours(start),
        ends_at=hours(start + 1),
        answer=answer,
    )
    rows = [
        {
            "site_id": SITE,
            "plan_id": f"plan-{number}",
            "block_id": names[(pair + each) * 97 % len(names)],
            "stack": 0,
            "starts_at": hours(start),
            "ends_at": hours(start + 1),
        }
        for each in range(2)
    ]
    connection.execute(sa.insert(tables.promise), rows)


def main() -> None:
    """Do what is asked for."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("what", choices=["race", "kill", "cost"])
    parser.add_argument("--rounds", type=int, default=100)
    given = parser.parse_args()
    if given.what == "kill":
        kill(given.rounds)
    else:
        {"race": race, "cost": cost}[given.what]()


if __name__ == "__main__":
    main()
