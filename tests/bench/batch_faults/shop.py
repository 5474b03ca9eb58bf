"""A service with workers and a client, and what is counted of them."""

import json
import random
import threading
import time
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any, TypeAlias

import httpx

from bench.crib.trouble import Line
from postgres import Postgres
from store.batch_workers import LEASE, WorkerProcess

_BOUND_S = 240.0
"""No case may take longer."""
_LOOK_S = 0.1
_COLUMNS = (
    *("store", "case", "requests", "workers died", "answers", "missing", "twice", "problems"),
    *("connections of the reader", "s"),
)
HEAD = f"| {' | '.join(_COLUMNS)} |\n| --- | --- |{' ---: |' * (len(_COLUMNS) - 2)}"

Batch: TypeAlias = list[dict[str, Any]]


def request(ref: str, number: int) -> dict[str, Any]:
    """A small search of its own."""
    length = f"0.{3000 + number % 6000:04d}"
    return {
        "unit": "in",
        "sets": [{"id": "s", "composition": "inch-81", "grade": "AS-1"}],
        "targets": [{"kind": "length", "ref": ref, "length": length}],
        "time_limit_ms": 30_000,
    }


class Shop:
    """One service on one database."""

    def __init__(  # noqa: PLR0913, PLR0917 - what a case may need
        self,
        name: str,
        url: str,
        through: str,
        address: str,
        line: Line,
        server: Postgres,
        size: int,
    ) -> None:
        self.name, self.url, self.address, self.size = name, url, address, size
        self.line, self.server = line, server
        self._through = through
        self.chance = random.Random(17)
        self.workers: list[WorkerProcess] = []
        self.deaths = 0
        self._client = httpx.Client(timeout=60)

    @property
    def on_postgres(self) -> bool:
        """Which of the two it is."""
        return self.url.startswith("postgresql")

    def run(self, name: str, case: Callable[["Shop"], "Ran | None"]) -> None:
        """One case, and its row; every worker is ended."""
        self.deaths, began = 0, time.monotonic()
        try:
            ran = case(self)
        finally:
            for each in self.workers:
                each.end()
            self.workers.clear()
        if ran is not None:
            row = [self.name, name, *ran.row(self.deaths), f"{time.monotonic() - began:.0f}"]
            print(f"| {' | '.join(map(str, row))} |", flush=True)

    def post(self, batch: Batch) -> str:
        """The address of a new batch."""
        lines = "\n".join(map(json.dumps, batch))
        headers = {"Content-Type": "application/x-ndjson"}
        answer = self._client.post(f"{self.address}/v1/batches", content=lines, headers=headers)
        assert answer.status_code == 202, answer.text
        return f"{self.address}{answer.headers['Location']}"

    def status(self, path: str) -> dict[str, Any]:
        """How far it is; a service whose database is away is asked again."""
        while (answer := self._client.get(path)).status_code == 503:
            time.sleep(_LOOK_S)
        status: dict[str, Any] = answer.json()
        return status

    def hire(self, number: int, *, cut_off: bool = False) -> None:
        """Start so many workers; by a line that can be cut if need be."""
        url = self._through if cut_off else self.url
        self.workers += [WorkerProcess(url, lease=LEASE) for _ in range(number)]

    def replace_the_dead(self) -> None:
        """As a supervisor does."""
        for place, each in enumerate(self.workers):
            if each.died:
                self.deaths += 1
                self.workers[place] = WorkerProcess(self.url, lease=LEASE)

    def until_done(self, path: str, trouble: Callable[[], float | None] = lambda: None) -> None:
        """Let trouble come again and again, after the seconds that it says, until all is done."""
        end, next_trouble = time.monotonic() + _BOUND_S, 0.0
        while self.status(path)["state"] != "done":
            now = time.monotonic()
            assert now < end, self.status(path)
            if now >= next_trouble:
                pause = trouble()
                next_trouble = now + (_BOUND_S if pause is None else pause)
            self.replace_the_dead()
            time.sleep(_LOOK_S)


class Ran:
    """What came of a batch, as its reader saw it."""

    def __init__(self, batch: Batch, lines: list[dict[str, Any]], connections: int) -> None:
        self.batch, self.lines, self._connections = batch, lines, connections

    @property
    def problems(self) -> Counter[str]:
        """By kind."""
        kinds = (each["problem"]["type"] for each in self.lines if each["problem"])
        return Counter(kind.rpartition("/")[2] for kind in kinds)

    def row(self, deaths: int) -> list[object]:
        """The figures; fails where a request has no answer, two of them, or that of another."""
        seen = Counter(each["position"] for each in self.lines)
        missing, twice = len(self.batch) - len(seen), sum(seen.values()) - len(seen)
        assert missing == twice == 0, (missing, twice)
        assert [each["position"] for each in self.lines] == sorted(seen)
        for line in self.lines:
            wanted = self.batch[line["position"]]["targets"][0]["ref"]
            if line["answer"]:
                assert line["answer"]["stacks"][0]["target"] == wanted
        said = ", ".join(f"{count} {kind}" for kind, count in self.problems.items()) or 0
        return [len(self.batch), deaths, len(self.lines), missing, twice, said, self._connections]


@contextmanager
def reading(path: str, batch: Batch) -> Iterator[Callable[[], Ran]]:
    """A client that reads results as they come, and loses its connection now and then."""
    lines, connections, wanted = list[dict[str, Any]](), [0], len(batch)

    def read() -> None:
        chance, end = random.Random(5), time.monotonic() + _BOUND_S
        while len(lines) < wanted and time.monotonic() < end:
            connections[0] += 1
            after = f"?after={lines[-1]['position']}" if lines else ""
            patience = time.monotonic() + chance.uniform(1, 6)
            with httpx.stream("GET", f"{path}/results{after}", timeout=_BOUND_S) as answer:
                if answer.status_code != 200:
                    time.sleep(_LOOK_S)
                    continue
                for text in answer.iter_lines():
                    lines.append(json.loads(text))
                    if time.monotonic() > patience:
                        break

    thread = threading.Thread(target=read)
    thread.start()

    def ran() -> Ran:
        thread.join(_BOUND_S)
        return Ran(batch, lines, connections[0])

    yield ran
    thread.join(_BOUND_S)
