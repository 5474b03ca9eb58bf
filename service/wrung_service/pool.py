"""The bounded pool of threads that search: CP-SAT lets go of the GIL while it does."""

import asyncio
import math
import threading
import time
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from typing import Final, TypeVar

from wrung.planning.deadline import Cancel

T = TypeVar("T")

_LEAST_MS: Final = 1.0
_LEAST_WAIT_S: Final = 0.1
"""A free thread may need that long to begin on a busy machine, however short the time limit."""
_FIRST_GUESS_S: Final = 0.1
_WEIGHT_OF_NEWEST: Final = 0.2


class BusyError(Exception):
    """No worker can take the work in time; ``retry_after`` says in how many seconds one may."""

    def __init__(self, detail: str, retry_after: int) -> None:
        super().__init__(detail)
        self.detail = detail
        self.retry_after = retry_after


class SolvePool:
    """Runs searches in ``workers`` threads and lets ``queue_length`` more wait."""

    def __init__(self, *, workers: int, queue_length: int) -> None:
        self._workers = workers
        self._most = workers + queue_length
        self._threads: ThreadPoolExecutor | None = None
        # The event loop adds to what is held, and the threads take away from it.
        self._lock = threading.Lock()
        self._held: set[Cancel] = set()
        self._usual_s = _FIRST_GUESS_S

    @property
    def held(self) -> int:
        """How many searches run or wait."""
        return len(self._held)

    async def run(self, work: Callable[[Cancel, float], T], *, limit_ms: float) -> T:
        """Run ``work(cancel, remaining_ms)`` in a worker and return what it returns.

        Waiting counts: ``remaining_ms`` is what the wait left of ``limit_ms``. If the caller is
        cancelled, work that waits is dropped and work that runs is told so by its `Cancel`.

        Raises:
            BusyError: the queue is full, or the time was over before a worker was free.
        """
        deadline = time.monotonic() + limit_ms / 1000
        cancel, future = self._submit(work, deadline)
        try:
            return await self._result(future, limit_ms)
        except asyncio.CancelledError:
            cancel.cancel()
            raise

    def end_all(self) -> None:
        """Tell every search to answer with what it has."""
        with self._lock:
            held = list(self._held)
        for cancel in held:
            cancel.cancel()

    def close(self) -> None:
        """End every search and wait for the threads; work that comes later has new threads."""
        self.end_all()
        with self._lock:
            threads, self._threads = self._threads, None
        if threads:
            threads.shutdown(wait=True, cancel_futures=True)

    def _submit(
        self, work: Callable[[Cancel, float], T], deadline: float
    ) -> tuple[Cancel, Future[T]]:
        cancel = Cancel()
        with self._lock:
            if len(self._held) >= self._most:
                raise BusyError("The queue is full.", self._retry_after())
            if self._threads is None:
                self._threads = ThreadPoolExecutor(self._workers, thread_name_prefix="solve")
            future = self._threads.submit(self._work, work, cancel, deadline)
            self._held.add(cancel)
        # Outside the lock: work that is done by now calls back at once, and that takes the lock.
        future.add_done_callback(lambda _: self._let_go(cancel))
        return cancel, future

    def _work(self, work: Callable[[Cancel, float], T], cancel: Cancel, deadline: float) -> T:
        start = time.monotonic()
        try:
            # Taken up at the last moment it still gets a little time, as its caller then waits.
            return work(cancel, max(_LEAST_MS, (deadline - start) * 1000))
        finally:
            taken = time.monotonic() - start
            # Without the lock: if two threads meet here, an estimate is a little less good.
            self._usual_s += _WEIGHT_OF_NEWEST * (taken - self._usual_s)

    async def _result(self, future: Future[T], limit_ms: float) -> T:
        waiting = asyncio.wrap_future(future)
        try:
            # Not `wait_for`, which gives up work that has begun; that may run over and still count.
            await asyncio.wait({waiting}, timeout=max(limit_ms / 1000, _LEAST_WAIT_S))
            # This succeeds only if no thread has begun with it.
            if future.cancel():
                raise BusyError("No worker was free within the time limit.", self._retry_after())
            return await waiting
        except asyncio.CancelledError:
            future.cancel()
            raise

    def _let_go(self, cancel: Cancel) -> None:
        with self._lock:
            self._held.discard(cancel)

    def _retry_after(self) -> int:
        """Whole seconds until a worker should be free for one request more."""
        ahead = math.ceil((len(self._held) + 1) / self._workers)
        # A minute at most: it is a guess, and a few long searches should not scare clients off.
        return min(60, max(1, math.ceil(ahead * self._usual_s)))
