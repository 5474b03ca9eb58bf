"""Batches of a service that was told nothing but where its store is."""

import json
import sqlite3
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from itertools import islice
from pathlib import Path

from e2e.processes import Server, running
from patience import PATIENCE_S
from service.bodies import request, target

NUMBER = 200


def events(server: Server, path: str) -> list[tuple[str, str, int]]:
    """Kind, id and answered requests of each event, to the end."""
    with server.client() as client:
        text = client.get(f"{path}/events", headers={"Last-Event-ID": "0"}).text
    found = [each.split("\n") for each in text.split("\n\n") if each.startswith("event")]
    return [
        (
            kind.removeprefix("event: "),
            number.removeprefix("id: "),
            json.loads(data.removeprefix("data: "))["answered"],
        )
        for kind, number, data in found
    ]


def hold_second_half(store: Path) -> None:
    """Let its chunks be another worker's as soon as they are posted."""
    _change(
        store,
        """
        CREATE TRIGGER held AFTER INSERT ON batch_chunk WHEN new.first >= 100 BEGIN
            UPDATE batch_chunk SET state = 'doing', owner = 'another', lease_until = '9999-01-01'
            WHERE n = new.n;
        END
        """,
    )


def give_back(store: Path) -> None:
    """Let any worker have them."""
    _change(store, "UPDATE batch_chunk SET state = 'waiting' WHERE owner = 'another'")


def _change(store: Path, statement: str) -> None:
    with closing(sqlite3.connect(store, timeout=PATIENCE_S)) as connection, connection:
        connection.execute(statement)


def test_a_worker_beside_the_service_answers_them_as_they_are_read(tmp_path: Path) -> None:
    """Results come while it runs; the worker is gone when the service has ended.

    The second half is held until the first was read, so that it runs then, however fast it is.
    """
    store = tmp_path / "crib.db"
    flags = ("--store-url", f"sqlite:///{store}", "--missing-store", "make")
    body = {"requests": [request(targets=[target(f"t{n}", "0.3506")]) for n in range(NUMBER)]}
    with running(*flags) as server, server.client() as client, ThreadPoolExecutor() as threads:
        hold_second_half(store)
        path = client.post("/v1/batches", json=body).headers["Location"]
        watched = threads.submit(events, server, path)
        with client.stream("GET", f"{path}/results") as results:
            positions = (json.loads(line)["position"] for line in results.iter_lines())
            first = list(islice(positions, NUMBER // 2))
            meanwhile = client.get(path).json()
            give_back(store)
            others = list(positions)
        told = watched.result()
        server.terminate()

        assert server.exit_code() == 0
    assert [*first, *others] == list(range(NUMBER))
    assert (meanwhile["state"], meanwhile["answered"]) == ("running", NUMBER // 2)
    assert told[-1] == ("end", "end", NUMBER)
    assert [kind for kind, *_ in told[:-1]] == ["progress"] * (len(told) - 1)
    counts = [answered for *_, answered in told]
    assert counts == sorted(counts)
    assert len({number for _, number, _ in told}) == len(told)
