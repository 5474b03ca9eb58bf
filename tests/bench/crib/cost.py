"""A plan beside the same stateless request, with a full store."""

import json
import os
import statistics
import tempfile
import time
from collections.abc import Callable
from typing import Any

import httpx
import sqlalchemy as sa

from store.rows import SITE, START, add_block, add_plan, add_set, add_site, hours
from wrung.compositions import composition
from wrung.lengths import to_text
from wrung_service.store import tables
from wrung_service.store.engine import Store
from wrung_service.usecases.crib_shelf import CribWanted, Window
from wrung_service.usecases.look_up_crib import look_up_crib

from .served import databases, plan_of, served


def cost() -> None:
    """A plan and the same stateless request, in turn, with a full store."""
    print(
        "| 10,000 plans, 50 sets | stateless, ms | plan, ms | more, ms | more CPU, ms "
        "| fsync, ms | free of 5,000, ms | CPU, ms | after a change, ms | CPU, ms "
        "| issue, ms | return, ms | what is out, ms |"
    )
    print(f"| --- |{' ---: |' * 12}")
    with databases() as (urls, _):
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
