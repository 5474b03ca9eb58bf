"""Probes."""

import asyncio
import io
import threading
import time

import pytest

from patience import PATIENCE_S
from service.bodies import problem_name
from service.conftest import Client, Start
from service.doubles import Failing, Solver
from wrung_service.observe.health import Health
from wrung_service.observe.logs import make_log, silent_log
from wrung_service.store.errors import UnavailableError


def test_a_service_that_solves_is_ready(client: Client) -> None:
    """And alive."""
    assert client.get("/livez").json() == {"status": "alive"}
    assert client.get("/readyz").json() == {"status": "ready"}


@pytest.mark.parametrize("solver", [Failing(), Solver()])
def test_a_service_that_cannot_solve_is_alive_but_not_ready(start: Start, solver: Solver) -> None:
    """Restarting it would not help; sending requests elsewhere does."""
    client = start(solve=solver)

    response = client.get("/readyz")

    assert (response.status_code, problem_name(response)) == (503, "not-ready")
    assert "retry-after" in response.headers
    assert client.get("/livez").status_code == 200


def test_a_service_that_ends_is_not_ready() -> None:
    """Whatever the self test said."""

    async def scenario() -> None:
        health = Health(lambda: True, silent_log())
        assert await health.reason_against() is None
        health.end()
        assert await health.reason_against() == "The service is stopping."

    asyncio.run(scenario())


def test_the_self_test_is_cached() -> None:
    """A prober that asks every second costs one search in 30 s."""
    runs: list[int] = []

    def self_test() -> bool:
        runs.append(1)
        return True

    async def scenario() -> None:
        health = Health(self_test, silent_log())
        for _ in range(5):
            assert await health.reason_against() is None

    asyncio.run(scenario())
    assert len(runs) == 1


def test_a_service_whose_store_does_not_answer_is_not_ready() -> None:
    """Within a bounded time, with one thread for any number of probes; both changes are logged."""
    stream, asked, there = io.StringIO(), list[int](), threading.Event()

    def greet() -> None:
        asked.append(1)
        assert there.wait(PATIENCE_S)

    async def scenario() -> None:
        health = Health(lambda: True, make_log(stream), greet)
        began = time.monotonic()
        reasons = await asyncio.gather(*(health.reason_against() for _ in range(5)))
        assert time.monotonic() - began < PATIENCE_S / 2
        assert all("store does not answer" in str(each) for each in reasons)
        assert len(asked) == 1
        there.set()
        async with asyncio.timeout(PATIENCE_S):
            while await health.reason_against() is not None:
                pass

    asyncio.run(scenario())
    assert [stream.getvalue().count(f'"{each}"') for each in ("store_lost", "store_back")] == [1, 1]


def test_a_store_that_refuses_makes_unready() -> None:
    """And it is asked again, not only once."""

    def greet() -> None:
        raise UnavailableError("The database cannot be reached.")

    async def scenario() -> None:
        health = Health(lambda: True, silent_log(), greet)
        for _ in range(2):
            assert "store" in str(await health.reason_against())

    asyncio.run(scenario())


def test_a_failed_self_test_is_logged() -> None:
    """With the kind of the exception, without its words."""
    stream = io.StringIO()

    def self_test() -> bool:
        raise LookupError("told to nobody")

    asyncio.run(_asked(Health(self_test, make_log(stream))))

    assert '"exception":"LookupError"' in stream.getvalue()
    assert "told to nobody" not in stream.getvalue()


async def _asked(health: Health) -> None:
    assert await health.reason_against() == "The self test failed."
