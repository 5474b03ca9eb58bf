"""Batches of a service that was told nothing but where its store is."""

import json
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from e2e.processes import Server, running
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


def test_a_worker_beside_the_service_answers_them_as_they_are_read(tmp_path: Path) -> None:
    """Results come while it runs; the worker is gone when the service has ended."""
    store = ("--store-url", f"sqlite:///{tmp_path / 'crib.db'}", "--missing-store", "make")
    body = {"requests": [request(targets=[target(f"t{n}", "0.3506")]) for n in range(NUMBER)]}
    with running(*store) as server, server.client() as client, ThreadPoolExecutor() as threads:
        path = client.post("/v1/batches", json=body).headers["Location"]
        watched = threads.submit(events, server, path)
        with client.stream("GET", f"{path}/results") as results:
            lines = results.iter_lines()
            first = json.loads(next(lines))
            meanwhile = client.get(path).json()
            others = [json.loads(line)["position"] for line in lines]
        told = watched.result()
        server.terminate()

        assert server.exit_code() == 0
        assert server.logged("worker_ended")
    assert (first["position"], others) == (0, list(range(1, NUMBER)))
    assert (meanwhile["state"], meanwhile["answered"] < NUMBER) == ("running", True)
    assert told[-1] == ("end", "end", NUMBER)
    assert [kind for kind, *_ in told[:-1]] == ["progress"] * (len(told) - 1)
    counts = [answered for *_, answered in told]
    assert counts == sorted(counts)
    assert len({number for _, number, _ in told}) == len(told)
