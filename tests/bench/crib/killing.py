"""kill -9 at random moments under write load."""

import random
import sqlite3
import threading
import time
from collections.abc import Iterator
from itertools import count

import httpx
import sqlalchemy as sa
from msgspec import Struct, field

from postgres import Postgres
from store.rows import add_block, add_site
from wrung.lengths import to_text
from wrung_service.store.engine import Store

from .forked import forked, load_service
from .served import HALF, MM, OVERLAPS, TWICE, counted, databases, doctor, ids, plan_of

_BLOCKS = 8
_CLIENTS = 4
_PATIENCE_S = 300
_ANSWER_S = 120
_SERVER_EVERY = 4
"""In so many rounds one kills PostgreSQL's server as well, which comes back."""


class Load(Struct, kw_only=True):
    """What the clients have sent, and what they were told.

    Attributes:
        open: numbers of requests whose answer never came; they are sent again, with their key.
        sent_again: how many of these were answered in the end.
    """

    acknowledged: set[str] = field(default_factory=set)
    numbers: Iterator[int] = field(default_factory=count)
    open: list[int] = field(default_factory=list)
    sent_again: int = 0

    def wait_for_one_more(self) -> None:
        """Until another plan is acknowledged: from then on there is load."""
        before, end = len(self.acknowledged), time.monotonic() + _PATIENCE_S
        while len(self.acknowledged) == before:
            assert time.monotonic() < end, "nothing was acknowledged"
            time.sleep(0.01)

    def run(self, address: str) -> None:
        """Make plans until the service is gone."""
        threads = [threading.Thread(target=self._client, args=(address,)) for _ in range(_CLIENTS)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()

    def _client(self, address: str) -> None:
        with httpx.Client(timeout=_ANSWER_S) as session:
            while True:
                again = self.open.pop() if self.open else None
                number = next(self.numbers) if again is None else again
                try:
                    answer = session.post(
                        f"{address}/v1/plans",
                        json=_body(number),
                        headers={"Idempotency-Key": f"key-{number}"},
                    )
                except (httpx.NetworkError, httpx.RemoteProtocolError):
                    self.open.append(number)
                    return
                if answer.status_code == 201:
                    self.acknowledged.add(answer.json()["id"])
                    self.sent_again += again is not None
                else:
                    # The database is away: the plan may be there or not, and the key will tell.
                    assert answer.status_code == 503, answer.text
                    self.open.append(number)


def _body(number: int) -> dict[str, object]:
    length = to_text((100 + number % _BLOCKS) * MM // 10, "mm")
    return plan_of(number, length, number // _BLOCKS)


def kill(rounds: int) -> None:
    """The service is killed at a random moment under write load, again and again."""
    print(
        f"| {rounds} times kill -9 | of the server as well | acknowledged | sent again | lost "
        "| half | twice | overlaps | integrity | doctor |"
    )
    print("| --- | ---: | ---: | ---: | ---: | ---: | ---: | ---: | --- | --- |")
    with databases() as (urls, server):
        for name, url in urls.items():
            row = _killed(url, rounds, None if url.startswith("sqlite") else server)
            print(f"| {name} | {' | '.join(map(str, row))} |", flush=True)


def _killed(url: str, rounds: int, server: Postgres | None) -> list[object]:
    store = Store(url)
    with store.writing() as connection:
        add_site(connection)
        for number in range(_BLOCKS):
            add_block(connection, f"b{number}", nominal=(100 + number) * MM // 10)
    store.close()
    load_service()
    chance, load, of_server = random.Random(11), Load(), 0
    for turn in range(rounds):
        with forked(url) as (address, process):
            clients = threading.Thread(target=load.run, args=(address,))
            clients.start()
            load.wait_for_one_more()
            time.sleep(chance.uniform(0, 1.0))
            if server is not None and turn % _SERVER_EVERY == 0:
                server.kill()
                server.start()
                of_server += 1
                load.wait_for_one_more()
            assert process.is_alive(), "the service ended by itself"
            process.kill()
            clients.join()
    with forked(url) as (address, _):
        # The last of those that never heard: each is there once, or not at all.
        before = len(load.acknowledged)
        with httpx.Client(timeout=_ANSWER_S) as session:
            for number in load.open:
                key = {"Idempotency-Key": f"key-{number}"}
                answer = session.post(f"{address}/v1/plans", json=_body(number), headers=key)
                assert answer.status_code == 201, answer.text
                load.acknowledged.add(answer.json()["id"])
        load.sent_again += len(load.acknowledged) - before
    return [of_server, len(load.acknowledged), load.sent_again, *_checked(url, load.acknowledged)]


def _checked(url: str, acknowledged: set[str]) -> list[object]:
    lost = len(acknowledged - set(ids(url)))
    half, twice, overlaps = (counted(url, each) for each in (HALF, TWICE, OVERLAPS))
    integrity, found = _integrity(url), doctor(url)
    assert lost == half == twice == overlaps == 0, (lost, half, twice, overlaps)
    assert (integrity, found) == ("ok", "all right")
    return [lost, half, twice, overlaps, integrity, found]


def _integrity(url: str) -> str:
    """What the database itself finds when it looks at every page, row and index of its own."""
    if url.startswith("sqlite"):
        connection = sqlite3.connect(url.removeprefix("sqlite:///"))
        said = str(connection.execute("PRAGMA integrity_check").fetchone()[0])
        connection.close()
        return said
    engine = sa.create_engine(url.replace("postgresql://", "postgresql+psycopg://"))
    with engine.begin() as session:
        session.exec_driver_sql("CREATE EXTENSION IF NOT EXISTS amcheck")
        # Reads every page, and so compares its checksum; raises where an index is wrong.
        faults = session.exec_driver_sql(
            "SELECT count(*) FROM pg_class c, LATERAL verify_heapam(c.oid) "
            "WHERE c.relkind = 'r' AND c.relnamespace = 'public'::regnamespace"
        ).scalar_one()
        session.exec_driver_sql(
            "SELECT bt_index_check(i.indexrelid, true) FROM pg_index i "
            "JOIN pg_class c ON c.oid = i.indexrelid JOIN pg_am a ON a.oid = c.relam "
            "WHERE a.amname = 'btree' AND c.relnamespace = 'public'::regnamespace"
        ).all()
    engine.dispose()
    return "ok" if faults == 0 else f"{faults} faults"
