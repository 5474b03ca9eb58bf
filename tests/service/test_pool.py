"""The pool: so many searches at one time, so many waiting, the rest refused at once."""

import asyncio
import threading
import time
from collections.abc import Callable, Coroutine
from typing import Any

import pytest

from wrung import Cancel
from wrung_service.pool import BusyError, SolvePool

PATIENCE_S = 20


class Gate:
    """Work that waits for its gate to open, or for its own cancel."""

    def __init__(self) -> None:
        self.open = threading.Event()
        self.begun = threading.Semaphore(0)
        self.remaining: list[float] = []
        self.cancelled: list[bool] = []

    def work(self, cancel: Cancel, remaining_ms: float) -> str:
        self.remaining.append(remaining_ms)
        stop = threading.Event()
        with cancel.stopping(stop.set):
            self.begun.release()
            end = time.monotonic() + PATIENCE_S
            while not self.open.is_set() and not stop.is_set():
                assert time.monotonic() < end
                time.sleep(0.001)
        self.cancelled.append(cancel.cancelled)
        return "done"


def run_with_pool(
    scenario: Callable[[SolvePool, Gate], Coroutine[Any, Any, None]], *, queue: int
) -> None:
    """Play a scenario with one worker; the threads are gone afterwards."""
    pool, gate = SolvePool(workers=1, queue_length=queue), Gate()
    try:
        asyncio.run(asyncio.wait_for(scenario(pool, gate), PATIENCE_S))
    finally:
        gate.open.set()
        pool.close()


async def begun(gate: Gate) -> None:
    """Wait until work has begun."""
    await asyncio.to_thread(gate.begun.acquire, timeout=PATIENCE_S)


async def emptied(pool: SolvePool) -> None:
    """Wait until nothing is held; the thread of a cancelled caller tells nobody when it ends."""
    while pool.held:  # noqa: ASYNC110
        await asyncio.sleep(0.001)


def test_a_full_queue_refuses_at_once() -> None:
    """One runs, one waits, the third is told when to come again."""

    async def scenario(pool: SolvePool, gate: Gate) -> None:
        tasks = [asyncio.create_task(pool.run(gate.work, limit_ms=9_000)) for _ in range(2)]
        await begun(gate)
        with pytest.raises(BusyError) as refused:
            await pool.run(gate.work, limit_ms=9_000)
        assert refused.value.retry_after >= 1
        gate.open.set()
        assert await asyncio.gather(*tasks) == ["done", "done"]
        assert pool.held == 0

    run_with_pool(scenario, queue=1)


def test_waiting_counts_against_the_time_limit() -> None:
    """What waited half its time has half its time left."""

    async def scenario(pool: SolvePool, gate: Gate) -> None:
        first = asyncio.create_task(pool.run(gate.work, limit_ms=9_000))
        await begun(gate)
        second = asyncio.create_task(pool.run(gate.work, limit_ms=9_000))
        await asyncio.sleep(0.2)
        gate.open.set()
        await asyncio.gather(first, second)
        assert gate.remaining[1] <= 9_000 - 200

    run_with_pool(scenario, queue=1)


def test_work_that_waits_longer_than_its_limit_is_dropped() -> None:
    """It is refused when its time is over, and never begins."""

    async def scenario(pool: SolvePool, gate: Gate) -> None:
        first = asyncio.create_task(pool.run(gate.work, limit_ms=9_000))
        await begun(gate)
        with pytest.raises(BusyError):
            await pool.run(gate.work, limit_ms=30)
        assert pool.held == 1
        gate.open.set()
        await first
        assert len(gate.remaining) == 1

    run_with_pool(scenario, queue=1)


def test_running_work_is_told_when_its_caller_is_cancelled() -> None:
    """The search ends, and the place is free again."""

    async def scenario(pool: SolvePool, gate: Gate) -> None:
        task = asyncio.create_task(pool.run(gate.work, limit_ms=9_000))
        await begun(gate)
        task.cancel()
        with pytest.raises(asyncio.CancelledError):
            await task
        await emptied(pool)
        assert gate.cancelled == [True]

    run_with_pool(scenario, queue=0)


def test_waiting_work_is_dropped_when_its_caller_is_cancelled() -> None:
    """It never begins."""

    async def scenario(pool: SolvePool, gate: Gate) -> None:
        first = asyncio.create_task(pool.run(gate.work, limit_ms=9_000))
        await begun(gate)
        second = asyncio.create_task(pool.run(gate.work, limit_ms=9_000))
        await asyncio.sleep(0)
        second.cancel()
        with pytest.raises(asyncio.CancelledError):
            await second
        assert pool.held == 1
        gate.open.set()
        await first
        assert len(gate.remaining) == 1

    run_with_pool(scenario, queue=1)


def test_what_the_work_raises_reaches_its_caller() -> None:
    """And the place is free again."""

    def failing(_: Cancel, __: float) -> str:
        raise LookupError("nothing there")

    async def scenario(pool: SolvePool, _: Gate) -> None:
        with pytest.raises(LookupError):
            await pool.run(failing, limit_ms=9_000)
        assert pool.held == 0

    run_with_pool(scenario, queue=0)


def test_end_all_tells_every_search() -> None:
    """At the end of the service searches answer with what they have."""

    async def scenario(pool: SolvePool, gate: Gate) -> None:
        tasks = [asyncio.create_task(pool.run(gate.work, limit_ms=9_000)) for _ in range(2)]
        await begun(gate)
        pool.end_all()
        assert await asyncio.gather(*tasks) == ["done", "done"]
        assert gate.cancelled == [True, True]

    run_with_pool(scenario, queue=1)


def test_a_closed_pool_opens_again() -> None:
    """An application may be started again in the same process."""

    def work(_: Cancel, __: float) -> str:
        return "done"

    async def scenario(pool: SolvePool, _: Gate) -> None:
        assert await pool.run(work, limit_ms=9_000) == "done"
        pool.close()
        assert await pool.run(work, limit_ms=9_000) == "done"

    run_with_pool(scenario, queue=0)
