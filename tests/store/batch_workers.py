"""Workers of batches for tests and benchmarks: in this process, or as processes of their own.

The solver of a process kills it where a target is named ``deadly``, and takes its time where one
is named ``slow``.
"""

import asyncio
import multiprocessing
import os
import signal
import threading
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from datetime import timedelta
from multiprocessing.connection import Connection
from typing import Any

import wrung
from patience import PATIENCE_S
from wrung import Answer, Block, Target
from wrung_service.observe.logs import silent_log
from wrung_service.observe.sink import LineSink
from wrung_service.settings import Settings
from wrung_service.store.engine import Store
from wrung_service.usecases.batches.waiting_work import anything_to_do
from wrung_service.worker import BatchWorker, run_worker

# Loaded once, in a process that does nothing else: a worker then costs a fork.
_FORKS = multiprocessing.get_context("forkserver")
_FORKS.set_forkserver_preload(["store.batch_workers", "wrung.planning.solve"])

LEASE = timedelta(seconds=2)
"""Short, so that a test need not wait long until a chunk is taken over."""
_SLOW_S = 0.1


def run_until_idle(settings: Settings, store: Store, **replaced: Any) -> None:  # noqa: ANN401 - of the worker
    """Answer all that waits, in this process; the store is closed then."""

    async def work() -> None:
        worker = BatchWorker(settings, store, silent_log(), **replaced)
        running = asyncio.create_task(worker.run())
        while anything_to_do(store):
            await asyncio.wait({running}, timeout=0.02)
        worker.end()
        await running

    asyncio.run(asyncio.wait_for(work(), PATIENCE_S))
    store.close()


@contextmanager
def working(
    url: str,
    *,
    places: int = 2,
    lease: timedelta = LEASE,
    **replaced: Any,  # noqa: ANN401 - likewise
) -> Iterator[None]:
    """A worker in a thread of this process, as long as the block lasts."""
    begun, ended = threading.Event(), list[object]()

    async def work() -> None:
        store = Store(url)
        settings = Settings(solve_workers=places)
        worker = BatchWorker(settings, store, silent_log(), lease=lease, **replaced)
        loop = asyncio.get_running_loop()
        ended.append(lambda: loop.call_soon_threadsafe(worker.end))
        begun.set()
        await worker.run()
        store.close()

    thread = threading.Thread(target=lambda: asyncio.run(work()))
    thread.start()
    begun.wait(PATIENCE_S)
    try:
        yield
    finally:
        (end,) = ended
        assert callable(end)
        end()
        thread.join(PATIENCE_S)


class WorkerProcess:
    """A worker process, and what can happen to it."""

    def __init__(
        self, url: str, *, places: int = 2, lease: timedelta = LEASE, name: str = ""
    ) -> None:
        self._ready, ready = _FORKS.Pipe(duplex=False)
        self._process = _FORKS.Process(target=_work, args=(url, places, lease, name, ready))
        self._process.start()
        ready.close()

    @property
    def died(self) -> bool:
        """Whether it has ended."""
        return not self._process.is_alive()

    def send(self, number: int) -> None:
        """Send it a signal."""
        if self._process.pid is not None and not self.died:
            os.kill(self._process.pid, number)

    def end(self) -> int | None:
        """End it in good order, and wait for that; its exit code."""
        self.send(signal.SIGCONT)
        # A signal would kill it before.
        self._ready.poll(PATIENCE_S)
        self.send(signal.SIGTERM)
        self._process.join(PATIENCE_S)
        return self._process.exitcode

    def kill(self) -> None:
        """End it at once."""
        self._process.kill()
        self._process.join(PATIENCE_S)


def solve(blocks: Sequence[Block], targets: Sequence[Target], **options: Any) -> Answer:  # noqa: ANN401 - of `wrung.solve`
    """As the library, but for targets that are named to do harm."""
    names = {each.ref for each in targets}
    if "deadly" in names:
        os.kill(os.getpid(), signal.SIGKILL)
    if "slow" in names:
        time.sleep(_SLOW_S)
    return wrung.solve(blocks, targets, **options)


class _Telling(BatchWorker):
    """Tells when signals end it in good order."""

    ready: Connection

    async def run(self, idle_seconds: float = 0.0) -> None:
        self.ready.send(None)
        await super().run(idle_seconds)


def _work(url: str, places: int, lease: timedelta, name: str, ready: Connection) -> None:
    store, log = Store(url), silent_log()
    settings = Settings(solve_workers=places, grace_seconds=60)
    worker = _Telling(settings, store, log, solve=solve, lease=lease, name=name)
    worker.ready = ready
    run_worker(worker, settings, log, LineSink(2))
    store.close()
