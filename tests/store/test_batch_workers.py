"""Workers of batches are killed, frozen and thawed: every request has one answer all the same."""

import json
import signal
import sqlite3
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing
from datetime import timedelta
from typing import Any

import pytest
from litestar.testing import TestClient

import wrung
from patience import PATIENCE_S
from store.batch_workers import WorkerProcess, working
from store.test_batches import Client, one, posted
from wrung import Answer, Block, Target
from wrung_service.app import create_app
from wrung_service.settings import Settings
from wrung_service.store.batches import jobs
from wrung_service.store.engine import Store


@pytest.fixture
def client(store: Store) -> Iterator[Client]:
    with TestClient(create_app(Settings(solve_workers=1), store=store)) as client:
        yield client


def wait_for(true: Callable[[], bool]) -> None:
    end = time.monotonic() + PATIENCE_S
    while not true():
        assert time.monotonic() < end
        time.sleep(0.05)


def freeze(worker: WorkerProcess, url: str) -> None:
    """Stop it, but not while it writes: on SQLite nobody else could until it goes on."""
    worker.send(signal.SIGSTOP)
    while _is_locked(url):
        worker.send(signal.SIGCONT)
        time.sleep(0.05)
        worker.send(signal.SIGSTOP)


def _is_locked(url: str) -> bool:
    kind, _, path = url.partition(":///")
    if kind != "sqlite":
        return False
    with closing(sqlite3.connect(path, timeout=0.5)) as connection:
        try:
            connection.execute("BEGIN IMMEDIATE")
        except sqlite3.OperationalError:
            return True
    return False


def answered(client: Client, path: str) -> int:
    return int(client.get(path).json()["answered"])


def done(client: Client, path: str) -> bool:
    return bool(client.get(path).json()["state"] == "done")


def statuses(client: Client, path: str) -> list[int]:
    """Of each result in turn; each position is there once."""
    lines = [json.loads(line) for line in client.get(f"{path}/results").text.splitlines()]
    assert [each["position"] for each in lines] == list(range(len(lines)))
    return [each["status"] for each in lines]


def test_killed_frozen_and_thawed_workers_lose_nothing(client: Client, store_url: str) -> None:
    """One is frozen until others have taken its chunks over; another is killed in the middle."""
    path = posted(client, *[one("slow") for _ in range(40)])
    frozen, killed = WorkerProcess(store_url), WorkerProcess(store_url)
    wait_for(lambda: answered(client, path) > 5)

    killed.kill()
    freeze(frozen, store_url)
    last = WorkerProcess(store_url)
    wait_for(lambda: answered(client, path) > 20)
    frozen.send(signal.SIGCONT)
    wait_for(lambda: done(client, path))

    assert statuses(client, path) == [200] * 40
    assert (frozen.end(), last.end()) == (0, 0)


def test_a_deadly_request_is_answered_and_nobody_else_is_blamed(
    client: Client, store_url: str
) -> None:
    """Its neighbours were begun beside it when the worker died, and are tried alone after that.

    Nobody waits for a lease, as whichever comes after a worker has its name.
    """

    def worker_of_that_name() -> WorkerProcess:
        return WorkerProcess(store_url, lease=timedelta(hours=1), name="bench-worker")

    path = posted(client, *[one("a"), one("deadly"), *[one("b")] * 30])
    deaths, worker = 0, worker_of_that_name()
    end = time.monotonic() + PATIENCE_S
    while not done(client, path):
        if worker.died:
            deaths, worker = deaths + 1, worker_of_that_name()
            assert deaths < 6
        assert time.monotonic() < end
        time.sleep(0.05)

    assert statuses(client, path) == [200, 500, *[200] * 30]
    second = json.loads(client.get(f"{path}/results?after=0").text.splitlines()[0])
    assert second["problem"]["type"] == "/problems/worker-died"
    assert deaths == 3
    assert worker.end() == 0


def test_a_worker_that_is_told_to_end_gives_back_what_it_has(
    client: Client, store_url: str
) -> None:
    """At once, and in good order: the next one does not wait until a lease is over."""
    path = posted(client, *[one("slow") for _ in range(20)])
    first = WorkerProcess(store_url, lease=timedelta(hours=1))
    wait_for(lambda: answered(client, path) > 2)

    assert first.end() == 0

    second = WorkerProcess(store_url, lease=timedelta(hours=1))
    wait_for(lambda: done(client, path))
    assert statuses(client, path) == [200] * 20
    assert second.end() == 0


def test_a_chunk_without_its_job_gets_another(
    client: Client, store: Store, store_url: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Somebody has cleared the tables of the engine; on SQLite there are none."""
    monkeypatch.setattr(jobs, "LOST_EVERY_S", 0.1)
    path = posted(client, *[one() for _ in range(30)])
    if not store.on_sqlite:
        with store.writing() as connection:
            connection.exec_driver_sql("DELETE FROM procrastinate_jobs")

    with working(store_url):
        wait_for(lambda: done(client, path))

    assert statuses(client, path) == [200] * 30


def test_two_batches_take_turns(client: Client, store_url: str) -> None:
    """The small one is done long before the large one that was there first."""
    solved: list[str] = []

    def solve(blocks: Sequence[Block], targets: Sequence[Target], **options: Any) -> Answer:  # noqa: ANN401 - of `wrung.solve`
        solved.extend(each.ref for each in targets)
        return wrung.solve(blocks, targets, **options)

    large = posted(client, *[one("large") for _ in range(300)])
    small = posted(client, *[one("small") for _ in range(40)])
    # Else a worker that stands still is taken for dead, and what it has is solved once more.
    with working(store_url, places=1, lease=timedelta(hours=1), solve=solve):
        wait_for(lambda: {done(client, path) for path in (large, small)} == {True})

    assert (solved.count("large"), solved.count("small")) == (300, 40)
    last = max(place for place, ref in enumerate(solved) if ref == "small")
    assert last < 120
