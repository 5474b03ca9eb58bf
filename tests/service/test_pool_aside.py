"""Work that waits for something else than a worker, such as a database that does not answer."""

import asyncio
import threading
import time
from collections.abc import Callable, Coroutine
from typing import Any

import pytest

from patience import PATIENCE_S
from wrung_service.pool import BusyError, SolvePool, Turn, waiting_elsewhere


class Stuck:
    """Waits elsewhere until it is told to go on, and then uses its worker for a moment."""

    def __init__(self) -> None:
        self.go_on = threading.Event()
        self.most, self._now, self._lock = 0, 0, threading.Lock()

    def work(self, _: Turn) -> str:
        with waiting_elsewhere(), waiting_elsewhere():
            assert self.go_on.wait(PATIENCE_S)
        with self._lock:
            self._now += 1
            self.most = max(self.most, self._now)
        time.sleep(0.02)
        with self._lock:
            self._now -= 1
        return "late"


def test_who_waits_elsewhere_keeps_no_worker_from_others() -> None:
    """With one worker, five that are stuck and three that are not."""
    stuck = Stuck()

    async def scenario(pool: SolvePool) -> None:
        late = [asyncio.create_task(pool.run(stuck.work, limit_ms=600_000)) for _ in range(5)]
        await asyncio.sleep(0)
        for _ in range(3):
            assert await pool.run(lambda _: "soon", limit_ms=600_000) == "soon"
        assert pool.held == 5
        stuck.go_on.set()
        assert await asyncio.gather(*late) == ["late"] * 5
        assert pool.held == 0

    _play(scenario, stuck, aside=8)
    # What goes on needs a worker again: no more of it runs than there are.
    assert stuck.most == 1


def test_once_enough_are_stuck_the_next_is_refused_at_once() -> None:
    """Or it would have the worker that others need."""
    stuck = Stuck()

    async def scenario(pool: SolvePool) -> None:
        late = [asyncio.create_task(pool.run(stuck.work, limit_ms=600_000)) for _ in range(2)]
        await asyncio.sleep(0)
        assert await pool.run(lambda _: "soon", limit_ms=600_000) == "soon"
        await asyncio.sleep(2.2)
        with pytest.raises(BusyError, match="store") as refused:
            await pool.run(stuck.work, limit_ms=600_000)
        assert refused.value.retry_after > 0
        assert await pool.run(lambda _: "soon", limit_ms=600_000) == "soon"
        stuck.go_on.set()
        await asyncio.gather(*late)

    _play(scenario, stuck, aside=2)


def test_ending_waits_for_those_that_are_stuck() -> None:
    """They are told, and a pool that is closed has no thread left."""
    stuck = Stuck()

    async def scenario(pool: SolvePool) -> None:
        late = [asyncio.create_task(pool.run(stuck.work, limit_ms=600_000)) for _ in range(3)]
        await asyncio.sleep(0)
        assert await pool.run(lambda _: "soon", limit_ms=600_000) == "soon"
        pool.end_all()
        stuck.go_on.set()
        assert await asyncio.gather(*late) == ["late"] * 3

    _play(scenario, stuck, aside=8)


def _play(
    scenario: Callable[[SolvePool], Coroutine[Any, Any, None]], stuck: Stuck, *, aside: int
) -> None:
    pool = SolvePool(workers=1, queue_length=20, aside=aside)
    try:
        asyncio.run(asyncio.wait_for(scenario(pool), PATIENCE_S))
    finally:
        stuck.go_on.set()
        pool.close()
