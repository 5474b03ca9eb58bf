"""The pool: so many searches at one time, so many waiting, the rest refused at once."""

import asyncio
import threading
import time
from collections.abc import Callable, Coroutine
from typing import Any

import pytest

from patience import PATIENCE_S
from wrung_service.pool import BusyError, SolvePool, Turn


class Gate:
    """Work that waits for its gate to open, or for its own cancel."""

    def __init__(self) -> None:
        self.open = threading.Event()
        self.begun = threading.Semaphore(0)
        self.remaining: list[float] = []
        self.waited: list[float] = []
        self.clients: list[str] = []
        self.cancelled: list[bool] = []

    def work(self, turn: Turn) -> str:
        cancel = turn.cancel
        self.remaining.append(turn.time_for_search_ms())
        self.waited.append(turn.waited_ms)
        self.clients.append(turn.client)
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
    scenario: Callable[[SolvePool, Gate], Coroutine[Any, Any, None]],
    *,
    queue: int,
    workers: int = 1,
) -> None:
    """Play a scenario; the threads are gone afterwards."""
    pool, gate = SolvePool(workers=workers, queue_length=queue), Gate()
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
        tasks = [asyncio.create_task(pool.run(gate.work, limit_ms=90_000)) for _ in range(2)]
        await begun(gate)
        with pytest.raises(BusyError) as refused:
            await pool.run(gate.work, limit_ms=90_000)
        assert refused.value.retry_after >= 1
        gate.open.set()
        assert await asyncio.gather(*tasks) == ["done", "done"]
        assert pool.held == 0

    run_with_pool(scenario, queue=1)


def test_waiting_counts_against_the_time_limit() -> None:
    """What waited has so much less left, and knows how long it waited; who did not, waited 0."""

    async def scenario(pool: SolvePool, gate: Gate) -> None:
        first = asyncio.create_task(pool.run(gate.work, limit_ms=90_000))
        await begun(gate)
        second = asyncio.create_task(pool.run(gate.work, limit_ms=90_000))
        await asyncio.sleep(0)
        assert pool.waiting == 1
        await asyncio.sleep(0.2)
        gate.open.set()
        await asyncio.gather(first, second)
        assert gate.remaining[1] <= 90_000 - 200
        assert gate.waited[0] == 0
        assert 200 <= gate.waited[1] <= 45_000

    run_with_pool(scenario, queue=1)


def test_work_that_waits_half_its_limit_is_dropped() -> None:
    """It is refused when less than half its time is left, and never begins."""

    async def scenario(pool: SolvePool, gate: Gate) -> None:
        first = asyncio.create_task(pool.run(gate.work, limit_ms=90_000))
        await begun(gate)
        start = time.monotonic()
        with pytest.raises(BusyError):
            await pool.run(gate.work, limit_ms=400)
        assert time.monotonic() - start >= 0.2
        assert pool.held == 1
        # Whatever went by before it came here counts as well.
        with pytest.raises(BusyError):
            await pool.run(gate.work, limit_ms=30_000, received=time.monotonic() - 20)
        gate.open.set()
        await first
        assert len(gate.remaining) == 1

    run_with_pool(scenario, queue=1)


def test_what_comes_to_nothing_after_a_wait_is_refused() -> None:
    """With all its time it might have come to something; without a wait that is its answer."""

    def cut(turn: Turn) -> str:
        turn.refuse_if_cut()
        return "nothing found"

    async def scenario(pool: SolvePool, gate: Gate) -> None:
        assert await pool.run(cut, limit_ms=90_000) == "nothing found"
        first = asyncio.create_task(pool.run(gate.work, limit_ms=90_000))
        await begun(gate)
        waiting = asyncio.create_task(pool.run(cut, limit_ms=90_000))
        await asyncio.sleep(0.01)
        gate.open.set()
        await first
        with pytest.raises(BusyError):
            await waiting

    run_with_pool(scenario, queue=1)


def test_clients_take_turns_at_one_worker() -> None:
    """However much one of them has sent before the other."""

    async def scenario(pool: SolvePool, gate: Gate) -> None:
        tasks = [asyncio.create_task(pool.run(gate.work, limit_ms=90_000, client="a"))]
        await begun(gate)
        for client in ("a", "a", "a", "b", "b"):
            tasks.append(asyncio.create_task(pool.run(gate.work, limit_ms=90_000, client=client)))
            await asyncio.sleep(0)
        gate.open.set()
        await asyncio.gather(*tasks)
        assert "".join(gate.clients) == "ababaa"

    run_with_pool(scenario, queue=5)


@pytest.mark.parametrize(("workers", "share"), [(2, 1), (3, 1), (4, 2), (5, 2)])
def test_while_another_waits_a_client_starts_no_more_than_its_share(
    workers: int, share: int
) -> None:
    """Half the workers; with nobody else there it has them all."""

    async def scenario(pool: SolvePool, _: Gate) -> None:
        gates = [Gate() for _ in range(workers)]
        tasks = [
            asyncio.create_task(pool.run(gate.work, limit_ms=90_000, client="a")) for gate in gates
        ]
        for gate in gates:
            await begun(gate)
        later = Gate()
        tasks.extend(
            asyncio.create_task(pool.run(later.work, limit_ms=90_000, client=client))
            for client in "a" * 2 * workers + "b" * 2 * workers
        )
        await asyncio.sleep(0.01)
        for gate in gates:
            gate.open.set()
        await asyncio.gather(*tasks[:workers])
        for _each in range(2 * share):
            await begun(later)
        await asyncio.sleep(0.05)
        assert sorted(later.clients) == ["a"] * share + ["b"] * share
        later.open.set()
        await asyncio.gather(*tasks)

    run_with_pool(scenario, queue=40, workers=workers)


def test_a_full_queue_has_a_place_for_another_client() -> None:
    """The newest place of whoever holds most; but who holds as many himself is refused."""

    async def scenario(pool: SolvePool, gate: Gate) -> None:
        first = asyncio.create_task(pool.run(gate.work, limit_ms=90_000, client="a"))
        await begun(gate)
        tasks = []
        for _ in range(3):
            tasks.append(asyncio.create_task(pool.run(gate.work, limit_ms=90_000, client="a")))
            await asyncio.sleep(0)
        other = asyncio.create_task(pool.run(gate.work, limit_ms=90_000, client="b"))
        with pytest.raises(BusyError):
            await tasks[2]
        with pytest.raises(BusyError):
            await pool.run(gate.work, limit_ms=90_000, client="b")
        gate.open.set()
        await asyncio.gather(first, *tasks[:2], other)
        assert "".join(gate.clients) == "abaa"

    run_with_pool(scenario, queue=3)


def test_running_work_is_told_when_its_caller_is_cancelled() -> None:
    """The search ends, and the place is free again."""

    async def scenario(pool: SolvePool, gate: Gate) -> None:
        task = asyncio.create_task(pool.run(gate.work, limit_ms=90_000))
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
        first = asyncio.create_task(pool.run(gate.work, limit_ms=90_000))
        await begun(gate)
        second = asyncio.create_task(pool.run(gate.work, limit_ms=90_000))
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

    def failing(_: Turn) -> str:
        raise LookupError("nothing there")

    async def scenario(pool: SolvePool, _: Gate) -> None:
        with pytest.raises(LookupError):
            await pool.run(failing, limit_ms=90_000)
        assert pool.held == 0

    run_with_pool(scenario, queue=0)


def test_end_all_tells_every_search() -> None:
    """At the end of the service searches answer with what they have; what waits is refused."""

    async def scenario(pool: SolvePool, gate: Gate) -> None:
        first = asyncio.create_task(pool.run(gate.work, limit_ms=90_000))
        await begun(gate)
        second = asyncio.create_task(pool.run(gate.work, limit_ms=90_000))
        await asyncio.sleep(0.01)
        pool.end_all()
        assert await first == "done"
        for refused in (second, pool.run(gate.work, limit_ms=90_000)):
            with pytest.raises(BusyError, match="stopping"):
                await refused
        assert gate.cancelled == [True]

    run_with_pool(scenario, queue=1)


def test_a_closed_pool_opens_again() -> None:
    """An application may be started again in the same process."""

    def work(_: Turn) -> str:
        return "done"

    async def scenario(pool: SolvePool, _: Gate) -> None:
        assert await pool.run(work, limit_ms=90_000) == "done"
        pool.close()
        assert await pool.run(work, limit_ms=90_000) == "done"

    run_with_pool(scenario, queue=0)
