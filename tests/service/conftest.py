"""The service in this process, with its log at hand."""

import io
import json
import sys
from collections.abc import Callable, Iterator
from typing import Any, TypeAlias

import msgspec
import pytest
from litestar.testing import TestClient

from service.crib_reader import HALL
from store.rows import START, Clock, add_site
from wrung_service.__main__ import main
from wrung_service.app import Service, create_app
from wrung_service.observe.logs import make_log
from wrung_service.settings import Settings
from wrung_service.store.engine import Store
from wrung_service.usecases.solve_stacks import Solve

Client: TypeAlias = TestClient[Any]
Start: TypeAlias = Callable[..., Client]


class LogBook:
    """What the service logged."""

    def __init__(self) -> None:
        self.stream = io.StringIO()

    def lines(self, event: str = "request") -> list[dict[str, Any]]:
        """The lines of one event, oldest first."""
        lines = [json.loads(line) for line in self.stream.getvalue().splitlines()]
        return [line for line in lines if line["event"] == event]

    def forget(self) -> None:
        """Drop what was logged, as a test that sends very much must."""
        self.stream.seek(0)
        self.stream.truncate()


@pytest.fixture
def log_book() -> LogBook:
    """Collects the log lines of `start`."""
    return LogBook()


@pytest.fixture
def start(log_book: LogBook) -> Iterator[Start]:
    """Starts a service with other settings or another solver; ended after the test."""
    clients: list[Client] = []

    def started(solve: Solve | None = None, **settings: int | str) -> Client:
        chosen = msgspec.structs.replace(Settings(), **settings)
        app = create_app(chosen, solve=solve, log=make_log(log_book.stream))
        clients.append(TestClient(app).__enter__())
        return clients[-1]

    yield started
    for client in clients:
        client.__exit__()


@pytest.fixture(scope="session")
def service() -> Service:
    """The service with default settings and the real solver."""
    return create_app(Settings(solve_workers=2))


@pytest.fixture(scope="session")
def client(service: Service) -> Iterator[Client]:
    """A client of `service`."""
    with TestClient(service) as client:
        yield client


class Run:
    """Runs commands in this process."""

    def __init__(self, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
        self._capsys, self._monkeypatch = capsys, monkeypatch

    def __call__(self, *arguments: str, sent: object = None) -> tuple[int, str, str]:
        """Exit status, standard output, standard error; what is sent goes to standard input."""
        if sent is not None:
            text = sent if isinstance(sent, str) else json.dumps(sent)
            stdin = io.TextIOWrapper(io.BytesIO(text.encode()))
            self._monkeypatch.setattr(sys, "stdin", stdin)
        status = main(arguments)
        told = self._capsys.readouterr()
        return status, told.out, told.err


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Run:
    """Runs a command."""
    return Run(capsys, monkeypatch)


@pytest.fixture
def without_a_shelf(client: Client) -> Iterator[None]:
    """Each page is that of a browser which was never here."""
    client.cookies.clear()
    yield
    client.cookies.clear()


@pytest.fixture
def clock() -> Clock:
    """The clock of a service, set by hand."""
    return Clock(START)


@pytest.fixture
def crib(store: Store, clock: Clock) -> Iterator[Client]:
    """A service with two sites; the one of `HALL` has a set that lacks a block."""
    with store.writing() as connection:
        add_site(connection, "north-hall")
        add_site(connection, "south-hall", "secret")
    app = create_app(Settings(solve_workers=1), store=store, clock=clock)
    with TestClient(app.edge) as client:
        made = client.put(
            f"{HALL}/sets/bench",
            json={"composition": "metric-88", "grade": "1", "missing": ["1.49"]},
        )
        assert made.status_code == 201, made.text
        yield client
