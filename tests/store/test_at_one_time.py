"""What happens when several ask for the same at one time, or for times beyond all need."""

import sqlite3
import threading
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from typing import Any, TypeAlias

import psycopg
import pytest
from httpx import Response
from litestar.testing import TestClient

from patience import PATIENCE_S
from store.rows import SITE, Clock, add_block, add_site, hours
from wrung_service.app import create_app
from wrung_service.settings import Settings
from wrung_service.store import engine
from wrung_service.store.engine import Store
from wrung_service.store.errors import UnavailableError

QUANTA = 100_000_000  # of 0.01 nm in a millimetre
Client: TypeAlias = TestClient[Any]


@pytest.fixture
def client(store: Store, clock: Clock) -> Iterator[Client]:
    """A site with one block."""
    with store.writing() as connection:
        add_site(connection)
        add_block(connection, "40", nominal=40 * QUANTA)
    settings = Settings(solve_workers=4, queue_length=200)
    with TestClient(create_app(settings, store=store, clock=clock)) as client:
        yield client


def asked(start: str, end: str, **members: object) -> dict[str, Any]:
    """The body of a plan that needs the block."""
    return {
        "unit": "mm",
        "crib": {"site": SITE, "needed_from": start, "needed_until": end},
        "job": "4711",
        "time_limit_ms": 60_000,
        "targets": [{"kind": "length", "ref": "t", "length": "40"}],
        **members,
    }


def for_hours(start: float, end: float, **members: object) -> dict[str, Any]:
    return asked(hours(start).isoformat(), hours(end).isoformat(), **members)


def at_once(
    client: Client, path: str, bodies: list[dict[str, Any]], headers: dict[str, str] | None = None
) -> list[Response]:
    """The answers to all of them, sent at one time."""

    def send(body: dict[str, Any]) -> Response:
        return client.post(path, json=body, headers=headers)

    with ThreadPoolExecutor(len(bodies)) as threads:
        return list(threads.map(send, bodies))


def test_one_key_gets_one_answer_where_only_one_plan_is_possible(client: Client) -> None:
    """Whoever finds the block taken looks whether the same request has it."""
    for day in range(5):
        body, headers = for_hours(24 * day, 24 * day + 1), {"Idempotency-Key": f"day-{day}"}

        answers = at_once(client, "/v1/plans", [body] * 8, headers)

        assert [each.status_code for each in answers] == [201] * len(answers)
        assert len({each.text for each in answers}) == 1


def test_a_plan_ends_once_however_many_say_so(client: Client) -> None:
    """All who say the same get the same, the others learn how it ended."""
    for day in range(5):
        made = client.post("/v1/plans", json=for_hours(24 * day, 24 * day + 1)).json()
        end = f"/v1/plans/{made['id']}/end"

        answers = at_once(client, end, [{"state": "done"}, {"state": "cancelled"}] * 4)

        won = {n % 2 for n, each in enumerate(answers) if each.status_code == 200}
        assert len(won) == 1
        assert {each.status_code for each in answers} == {200, 409}


def test_lists_agree_on_what_expired(client: Client, clock: Clock) -> None:
    """Whoever comes first notes it; nobody is told of a conflict who only looks."""
    for day in range(5):
        client.post("/v1/plans", json=for_hours(day, day + 1, expires_after_minutes=0))
    clock.now = hours(200)

    def look(_: int) -> Response:
        return client.get(f"/v1/plans?site={SITE}")

    with ThreadPoolExecutor(8) as threads:
        answers = list(threads.map(look, range(8)))

    assert {each.status_code for each in answers} == {200}
    assert {plan["state"] for each in answers for plan in each.json()["plans"]} == {"expired"}


def test_a_block_of_an_expired_plan_goes_to_whoever_comes(client: Client, clock: Clock) -> None:
    """Though nobody has looked at the plans since."""
    client.post("/v1/plans", json=for_hours(0, 8, expires_after_minutes=10))
    clock.now = hours(1)

    issued = client.post(f"/v1/sites/{SITE}/issues", json={"blocks": ["40"], "borrower": "Kim"})

    assert issued.status_code == 200, issued.text
    assert issued.json()["loans"][0]["plan"] is None


@pytest.mark.parametrize(
    ("start", "end"),
    [
        ("9999-12-31T23:59:59Z", "9999-12-31T23:59:59.5Z"),
        ("0001-01-01T00:00:00+14:00", "0001-01-01T01:00:00Z"),
        ("9999-12-31T23:00:00-23:00", "9999-12-31T23:59:00-23:30"),
    ],
)
def test_times_at_the_ends_of_the_calendar_are_refused(
    client: Client, start: str, end: str
) -> None:
    """They have no time in UTC, or none in the site's time zone."""
    body = asked(start, end)
    stacks = {"unit": "mm", "crib": body["crib"], "targets": body["targets"]}

    for path, sent in (("/v1/plans", body), ("/v1/plan-previews", body), ("/v1/stacks", stacks)):
        answer = client.post(path, json=sent)
        assert answer.status_code == 422, answer.text
        assert answer.json()["errors"][0]["pointer"] == "/crib/needed_from"
    listed = client.get("/v1/plans", params={"site": SITE, "needed_after": start})
    assert listed.status_code == 200
    issued = {"blocks": ["40"], "borrower": "Kim", "due_at": end}
    assert client.post(f"/v1/sites/{SITE}/issues", json=issued).status_code == 422


@pytest.mark.parametrize("store_url", ["sqlite"], indirect=True)
def test_nobody_waits_for_all_who_queue(store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where another program locks the file, each writer gives up in its own time."""
    monkeypatch.setattr(engine, "WAIT_MS", 50)
    inside, leave = threading.Event(), threading.Event()

    def hold() -> None:
        with store.writing():
            inside.set()
            leave.wait(PATIENCE_S)

    with ThreadPoolExecutor(1) as threads:
        held = threads.submit(hold)
        assert inside.wait(PATIENCE_S)
        with pytest.raises(UnavailableError):
            store.write(lambda _: None)
        leave.set()
        held.result()
    store.write(lambda _: None)


def test_a_connection_that_is_in_use_at_the_end_is_closed_after_that(store: Store) -> None:
    """A thread may be late, and nobody else would close it."""
    with store.reading() as connection:
        used = connection.connection.driver_connection
        store.close()
        assert connection.exec_driver_sql("SELECT 1").scalar_one() == 1

    assert used is not None
    with pytest.raises((sqlite3.ProgrammingError, psycopg.OperationalError), match="closed"):
        used.execute("SELECT 1")
