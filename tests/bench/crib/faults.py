"""What the service answers while its database is full, locked, gone, frozen or cut off.

One service goes through all of it without a restart, with clients that write, read and ask for
stacks without a crib all the time. Plans and lists may be refused, by a problem document that says
when to try again, and within a bound; the others may not; and the first request afterwards counts.
"""

import threading
import time
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, ExitStack, contextmanager
from itertools import count
from pathlib import Path
from tempfile import TemporaryDirectory

import httpx
from msgspec import Struct, field

from postgres import Postgres, running_postgres
from store.rows import SITE, add_block, add_site
from wrung.lengths import to_text
from wrung_service.store.engine import Store
from wrung_service.store.migrating import migrate

from .served import MM, doctor, ids, plan_of, served
from .trouble import (
    Line,
    frozen,
    full,
    killed,
    locked_file,
    locked_table,
    may_mount,
    moved_file,
    on_disk,
    small_disk,
    stopped,
)

BOUND_S = 15.0
"""No answer may take longer, whatever the database does."""
_PROBE_S = 5.0
_BLOCKS = 8
_STATELESS = {
    "unit": "mm",
    "blocks": [{"id": "a", "nominal": "5", "limit_deviation": "0.2"}],
    "targets": [{"kind": "length", "ref": "t", "length": "5"}],
    "time_limit_ms": 60_000,
}


class Case(Struct, frozen=True, kw_only=True):
    """A trouble, and what it leaves possible.

    Attributes:
        reads: whether lists may be answered meanwhile.
        ready: whether the service says that it is ready.
    """

    name: str
    begin: Callable[[], AbstractContextManager[None]]
    reads: bool
    ready: bool


class Seen(Struct, kw_only=True):
    """What one kind of request met: how many answers of each status, and the slowest."""

    statuses: Counter[int] = field(default_factory=Counter)
    slowest_s: float = 0.0

    def note(self, answer: httpx.Response, seconds: float) -> None:
        """One answer; a refusal must be a problem that says when to try again."""
        self.statuses[answer.status_code] += 1
        self.slowest_s = max(self.slowest_s, seconds)
        if answer.status_code == 503:
            assert answer.headers["Content-Type"] == "application/problem+json", answer.text
            assert int(answer.headers["Retry-After"]) > 0

    def __str__(self) -> str:
        """For a table."""
        told = ", ".join(f"{number} times {status}" for status, number in self.statuses.items())
        return f"{told or 'none'} | {self.slowest_s:.1f}"


class Clients:
    """They write, read and ask, until they are told to stop."""

    def __init__(self, address: str) -> None:
        self._address, self._numbers = address, count()
        self.acknowledged: set[str] = set()

    @contextmanager
    def busy(self) -> Iterator[dict[str, Seen]]:
        """All at work within; what they saw is complete afterwards."""
        seen = {"plan": Seen(), "list": Seen(), "stateless": Seen()}
        stop, faults = threading.Event(), list[BaseException]()

        def work(kind: str, ask: Callable[[httpx.Client], httpx.Response]) -> None:
            try:
                with httpx.Client(base_url=self._address, timeout=60) as session:
                    while not stop.is_set():
                        began = time.monotonic()
                        seen[kind].note(ask(session), time.monotonic() - began)
                        stop.wait(0.05)
            except BaseException as error:  # noqa: BLE001 - it is told below
                faults.append(error)

        kinds = [("plan", self.plan)] * 4 + [("list", _list)] * 2 + [("stateless", _stateless)] * 2
        threads = [threading.Thread(target=work, args=each) for each in kinds]
        for thread in threads:
            thread.start()
        try:
            yield seen
        finally:
            stop.set()
            for thread in threads:
                thread.join()
        if faults:
            raise faults[0]

    def plan(self, session: httpx.Client) -> httpx.Response:
        """One more plan, for blocks that nobody else wants at that time."""
        number = next(self._numbers)
        length = to_text((100 + number % _BLOCKS) * MM // 10, "mm")
        body = plan_of(number, length, number // _BLOCKS, time_limit_ms=10_000)
        answer = session.post("/v1/plans", json=body)
        if answer.status_code == 201:
            self.acknowledged.add(answer.json()["id"])
        return answer


def _list(session: httpx.Client) -> httpx.Response:
    return session.get("/v1/plans", params={"site": SITE, "limit": 1})


def _stateless(session: httpx.Client) -> httpx.Response:
    return session.post("/v1/stacks", json=_STATELESS)


def faults(hold_s: float = 8.0) -> None:
    """All cases on both databases."""
    print(
        "| store | case | plans | slowest, s | lists | slowest, s | without a crib | slowest, s "
        "| ready meanwhile | first plan after, s |"
    )
    print("| --- | --- | --- | ---: | --- | ---: | --- | ---: | --- | ---: |")
    for name, run in (("SQLite", on_sqlite), ("PostgreSQL", on_postgres)):
        for row in run(hold_s):
            print(f"| {name} | {row} |", flush=True)
    if not may_mount():
        print("\nNothing may be mounted here, so that no disk was filled.")


def on_sqlite(hold_s: float, slack: float = 1.0) -> Iterator[str]:
    """A row for each case; answers may take ``slack`` times the bounds."""
    with ExitStack() as stack:
        small = may_mount()
        folder = stack.enter_context(small_disk() if small else _folder())
        path = folder / "crib.db"
        cases = [
            Case(name="locked", begin=lambda: locked_file(path), reads=True, ready=True),
            Case(name="moved away", begin=lambda: moved_file(path), reads=False, ready=False),
        ]
        if small:
            cases.append(Case(name="disk full", begin=lambda: full(folder), reads=True, ready=True))
        url = f"sqlite:///{path}"
        yield from _through(cases, url, url, hold_s, slack)


def on_postgres(hold_s: float, slack: float = 1.0) -> Iterator[str]:
    """A row for each case; answers may take ``slack`` times the bounds."""
    with ExitStack() as stack:
        server = stack.enter_context(running_postgres(durable=True))
        disk = stack.enter_context(small_disk()) if may_mount() else None
        direct = server.url() if disk is None else on_disk(server, disk, "small")
        line = Line(server.port)
        stack.callback(line.close)
        cases = _of_postgres(server, direct, line)
        if disk is not None:
            cases.append(Case(name="disk full", begin=lambda: full(disk), reads=True, ready=True))
        asked = direct.replace(f":{server.port}/", f":{line.port}/")
        yield from _through(cases, asked, direct, hold_s, slack)
        # Before its disk is taken away.
        server.stop()


def _of_postgres(server: Postgres, direct: str, line: Line) -> list[Case]:
    def lock() -> AbstractContextManager[None]:
        return locked_table(direct, "promise")

    return [
        Case(name="table locked", begin=lock, reads=True, ready=True),
        Case(name="stopped", begin=lambda: stopped(server), reads=False, ready=False),
        Case(name="killed", begin=lambda: killed(server), reads=False, ready=False),
        Case(name="frozen", begin=lambda: frozen(server), reads=False, ready=False),
        Case(name="line dead", begin=line.dead, reads=False, ready=False),
    ]


def _through(
    cases: list[Case], asked: str, direct: str, hold_s: float, slack: float
) -> Iterator[str]:
    """One service, asked through one address and looked at through the other, in every case."""
    migrate(direct)
    store = Store(direct)
    with store.writing() as connection:
        add_site(connection)
        for number in range(_BLOCKS):
            add_block(connection, f"b{number}", nominal=(100 + number) * MM // 10)
    store.close()
    with served(asked) as (address, process):
        clients = Clients(address)
        with httpx.Client(base_url=address, timeout=60) as session:
            assert clients.plan(session).status_code == 201
            for case in cases:
                yield f"{case.name} | {_suffered(case, clients, session, hold_s, slack)}"
                assert process.poll() is None
                _check(direct, clients)


def _suffered(
    case: Case, clients: Clients, session: httpx.Client, hold_s: float, slack: float
) -> str:
    with ExitStack() as stack:
        with clients.busy() as seen:
            time.sleep(0.5)
            stack.enter_context(case.begin())
            began, before = time.monotonic(), seen["plan"].statuses[503]
            time.sleep(hold_s / 2)
            took = _wait_until(session, slack, ready=case.ready)
            time.sleep(max(0.0, began + hold_s - time.monotonic()))
        refused = seen["plan"].statuses[503] - before
    began = time.monotonic()
    first = clients.plan(session)
    first_s = time.monotonic() - began
    assert first.status_code == 201, (case.name, first.text)
    _judge(case, seen, refused, slack)
    assert took < slack * _PROBE_S
    _wait_until(session, slack, ready=True)
    told = " | ".join(str(seen[kind]) for kind in ("plan", "list", "stateless"))
    return f"{told} | {'yes' if case.ready else 'no'} | {first_s:.1f}"


def _judge(case: Case, seen: dict[str, Seen], refused: int, slack: float) -> None:
    plans, lists, stateless = seen["plan"], seen["list"], seen["stateless"]
    assert refused, f"{case.name} refused nothing, so it was no trouble"
    assert set(plans.statuses) <= {201, 503}, (case.name, plans.statuses)
    assert set(lists.statuses) <= ({200} if case.reads else {200, 503}), (case.name, lists.statuses)
    assert set(stateless.statuses) == {200}, (case.name, stateless.statuses)
    slowest = max(each.slowest_s for each in seen.values())
    assert slowest < slack * BOUND_S, (case.name, slowest)


def _wait_until(session: httpx.Client, slack: float, *, ready: bool) -> float:
    """The time of the slowest probe until one says so, s; what it was told is a second old."""
    end, slowest = time.monotonic() + slack * _PROBE_S, 0.0
    while True:
        began = time.monotonic()
        answer = session.get("/readyz")
        slowest = max(slowest, time.monotonic() - began)
        if (answer.status_code == 200) is ready:
            return slowest
        assert time.monotonic() < end, answer.text
        time.sleep(0.1)


def _check(url: str, clients: Clients) -> None:
    assert clients.acknowledged <= set(ids(url)), "an acknowledged plan is lost"
    assert doctor(url) == "all right", doctor(url)


@contextmanager
def _folder() -> Iterator[Path]:
    with TemporaryDirectory() as name:
        yield Path(name)
