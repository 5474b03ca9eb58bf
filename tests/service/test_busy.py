"""What a client sees of the pool, and what the search sees of a client that leaves."""

import asyncio
import json
import threading
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from typing import Any, TypeAlias, cast

import httpx
import msgspec

from patience import PATIENCE_S
from service.bodies import problem_name, request
from service.conftest import LogBook
from service.doubles import Blocking, Decided, Solver
from wrung_service.app import Service, create_app
from wrung_service.observe.logs import make_log
from wrung_service.settings import Settings

Message: TypeAlias = Any
"""ASGI's dictionaries, as a server makes them."""


def service(solver: Solver, log_book: LogBook, **settings: int) -> Service:
    """One worker, nobody waits; what does, waits longer than any machine stands still."""
    alone = Settings(solve_workers=1, queue_length=0, default_time_limit_ms=60_000)
    chosen = msgspec.structs.replace(alone, **settings)
    return create_app(chosen, solve=solver, log=make_log(log_book.stream))


@asynccontextmanager
async def client_of(app: Service) -> AsyncIterator[httpx.AsyncClient]:
    """A client in this process."""
    transport = httpx.ASGITransport(cast("Any", app))
    async with httpx.AsyncClient(transport=transport, base_url="http://service") as client:
        try:
            yield client
        finally:
            app.pool.close()


async def acquired(semaphore: threading.Semaphore) -> bool:
    """Wait for a thread of the pool."""
    return bool(await asyncio.to_thread(semaphore.acquire, timeout=PATIENCE_S))


async def one_waits(app: Service) -> None:
    """Wait until a request is in the queue."""
    async with asyncio.timeout(PATIENCE_S):
        while not app.pool.waiting:  # noqa: ASYNC110 - the pool tells nobody
            await asyncio.sleep(0.001)


def test_a_full_queue_is_answered_with_503_and_retry_after(log_book: LogBook) -> None:
    """At once, while the one search goes on."""

    async def scenario() -> None:
        solver = Blocking()
        async with client_of(service(solver, log_book)) as client:
            first = asyncio.create_task(client.post("/v1/stacks", json=request()))
            assert await acquired(solver.begun)
            refused = await client.post("/v1/stacks", json=request())
            assert (refused.status_code, problem_name(refused)) == (503, "busy")
            assert int(refused.headers["retry-after"]) >= 1
            solver.released.set()
            assert (await first).status_code == 200
            assert (await client.post("/v1/stacks", json=request())).status_code == 200

    asyncio.run(scenario())


def test_a_survey_of_coverage_waits_in_the_same_queue(log_book: LogBook) -> None:
    """It is refused while the one search goes on, and answered when that is over."""
    grid = {"start": "0.1", "stop": "1", "step": "0.1"}
    blocks = request()["blocks"]

    async def scenario() -> None:
        solver = Blocking()
        async with client_of(service(solver, log_book)) as client:
            first = asyncio.create_task(client.post("/v1/stacks", json=request()))
            assert await acquired(solver.begun)
            asked = {"unit": "in", "blocks": blocks, "range": grid}
            refused = await client.post("/v1/coverage", json=asked)
            assert (refused.status_code, problem_name(refused)) == (503, "busy")
            solver.released.set()
            await first
            assert (await client.post("/v1/coverage", json=asked)).status_code == 200

    asyncio.run(scenario())


def test_what_waits_too_long_is_answered_with_503(log_book: LogBook) -> None:
    """When its own time is over, not when the search before it ends."""

    async def scenario() -> None:
        solver = Blocking()
        async with client_of(service(solver, log_book, queue_length=1)) as client:
            first = asyncio.create_task(client.post("/v1/stacks", json=request()))
            assert await acquired(solver.begun)
            late = await client.post("/v1/stacks", json=request(time_limit_ms=20))
            assert (late.status_code, problem_name(late)) == (503, "busy")
            assert not first.done()
            solver.released.set()
            await first
            assert len(solver.calls) == 1

    asyncio.run(scenario())


def test_the_time_limit_reaches_the_search(log_book: LogBook) -> None:
    """Less what was spent on the way."""

    async def scenario() -> None:
        solver = Solver()
        async with client_of(service(solver, log_book)) as client:
            await client.post("/v1/stacks", json=request(time_limit_ms=345))
            await client.post("/v1/stacks", json=request())
            assert 0 < solver.calls[0] <= 345 < solver.calls[1] <= 60_000

    asyncio.run(scenario())


def test_the_search_ends_when_its_client_is_gone(log_book: LogBook) -> None:
    """Nobody waits for its answer."""

    async def scenario() -> None:
        solver = Blocking()
        app = service(solver, log_book)
        await post_and_leave(app, lambda: acquired(solver.begun))
        assert await acquired(solver.ended)
        assert solver.cancels[0].cancelled
        app.pool.close()

    asyncio.run(scenario())
    assert [line["outcome"] for line in log_book.lines()] == ["client-gone"]


def test_a_client_that_leaves_in_the_middle_of_its_body_is_no_fault(log_book: LogBook) -> None:
    """Nothing is solved, nothing is logged as a crash."""

    async def scenario() -> None:
        app = service(Solver(), log_book)
        messages = [
            {"type": "http.request", "body": b'{"unit":', "more_body": True},
            {"type": "http.disconnect"},
        ]

        async def receive() -> Message:
            return messages.pop(0)

        await app(scope(), receive, swallow)

    asyncio.run(scenario())
    assert [line["outcome"] for line in log_book.lines()] == ["client-gone"]
    assert log_book.lines("crash") == []


def test_the_end_of_the_service_is_no_fault_of_a_request(log_book: LogBook) -> None:
    """What has nothing yet, what waits and what comes: 503 each, to be sent again, never 422."""

    async def scenario() -> None:
        solver = Blocking()
        app = service(solver, log_book, queue_length=1)
        async with client_of(app) as client:
            for extra in ({}, {"alternatives": 2}):
                running = asyncio.create_task(client.post("/v1/stacks", json=request(**extra)))
                assert await acquired(solver.begun)
                waiting = asyncio.create_task(client.post("/v1/stacks", json=request()))
                await one_waits(app)
                app.pool.end_all()
                late = client.post("/v1/stacks", json=request())
                for each in (running, waiting, late):
                    answer = await each
                    assert (answer.status_code, problem_name(answer)) == (503, "busy")
                    assert int(answer.headers["retry-after"]) >= 1
                app.pool.close()
                solver.released.clear()

    asyncio.run(scenario())


def test_answers_say_how_long_they_waited(log_book: LogBook) -> None:
    """So that a client can tell a slow search from a busy service; the log says it, too."""

    async def scenario() -> None:
        solver = Decided()
        app = service(solver, log_book, queue_length=1)
        async with client_of(app) as client:
            first = asyncio.create_task(client.post("/v1/stacks", json=request()))
            assert await acquired(solver.begun)
            second = asyncio.create_task(client.post("/v1/stacks", json=request()))
            await one_waits(app)
            await asyncio.sleep(0.1)
            solver.released.set()
            assert (await first).json()["waited_ms"] == 0
            assert (await second).json()["waited_ms"] >= 100

    asyncio.run(scenario())
    # The second may be done before the line of the first is written.
    assert sorted(line["waited_ms"] >= 100 for line in log_book.lines()) == [False, True]


def test_waiting_never_makes_an_answer_unknown(log_book: LogBook) -> None:
    """A search that had to wait and came to nothing is refused; one that did not wait is not."""

    async def scenario() -> None:
        solver = Blocking()
        app = service(solver, log_book, queue_length=1)
        async with client_of(app) as client:
            first = asyncio.create_task(client.post("/v1/stacks", json=request()))
            assert await acquired(solver.begun)
            second = asyncio.create_task(client.post("/v1/stacks", json=request()))
            await one_waits(app)
            solver.released.set()
            assert (await first).json()["outcome"] == "unknown"
            refused = await second
            assert (refused.status_code, problem_name(refused)) == (503, "busy")

    asyncio.run(scenario())


async def post_and_leave(app: Service, until: Callable[[], Any]) -> None:
    """Post a request over plain ASGI, and disconnect once ``until`` came back."""
    body = json.dumps(request()).encode()
    messages: asyncio.Queue[Any] = asyncio.Queue()
    messages.put_nowait({"type": "http.request", "body": body, "more_body": False})
    handling = asyncio.create_task(app(scope(), messages.get, swallow))
    await until()
    messages.put_nowait({"type": "http.disconnect"})
    await handling


def scope() -> Message:
    """The scope of a POST, as a server gives it."""
    return {
        "type": "http",
        "asgi": {"version": "3.0"},
        "http_version": "1.1",
        "method": "POST",
        "scheme": "http",
        "path": "/v1/stacks",
        "raw_path": b"/v1/stacks",
        "query_string": b"",
        "root_path": "",
        "headers": [(b"host", b"service"), (b"content-type", b"application/json")],
        "client": ("127.0.0.1", 50000),
        "server": ("127.0.0.1", 8000),
        "state": {},
    }


async def swallow(_: Message) -> None:
    """Nobody listens."""
