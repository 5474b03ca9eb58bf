"""The bounded pool of threads that answer requests: CP-SAT lets go of the GIL while it searches."""

import asyncio
import math
import threading
import time
from collections import Counter
from collections.abc import Callable, Generator
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import contextmanager
from contextvars import ContextVar, copy_context
from typing import Any, Final, TypeVar

from wrung.deadline import Cancel
from wrung_service.memory import GivingBack

T = TypeVar("T")

_LEAST_MS: Final = 1.0
_LEAST_SHARE: Final = 0.5
"""The share of its time limit that waiting must leave a request for its search."""
_FIRST_GUESS_S: Final = 0.1
_WEIGHT_OF_NEWEST: Final = 0.2
_ENDING: Final = "The service is stopping."
_LATE: Final = "No worker was free in time: less than half the time limit was left."
_RETRY_WHEN_ENDING_S: Final = 5
_ASIDE_AFTER_S: Final = 0.25
"""How long work may wait elsewhere and still keep its worker."""
_STUCK_S: Final = 2.0
_STUCK: Final = "Others wait for the store already, and it does not answer."


class BusyError(Exception):
    """No worker can take the work in time; one may be free in ``retry_after`` seconds."""

    def __init__(self, detail: str, retry_after: int) -> None:
        super().__init__(detail)
        self.detail = detail
        self.retry_after = retry_after


class Turn:
    """What work in the pool is given: its `Cancel`, and the time that is left.

    Attributes:
        cancel: told when the client is gone or the service ends.
        waited_ms: how long the work waited for a worker; 0 if one was free.
    """

    def __init__(self, client: str, limit_ms: float, received: float) -> None:
        self.client = client
        self.cancel = Cancel()
        self.waited_ms = 0.0
        self._limit_s = limit_ms / 1000
        self._received = received
        self._begun = received
        self._retry_after = 1

    @property
    def latest_start(self) -> float:
        """When it must have a worker, on the monotonic clock."""
        return self._received + (1 - _LEAST_SHARE) * self._limit_s

    def begin(self, *, waited: bool, retry_after: int) -> None:
        """It has a worker from now on."""
        self._begun = time.monotonic()
        self._retry_after = retry_after
        # The moment that a free thread needs to begin is not waiting.
        self.waited_ms = (self._begun - self._received) * 1000 if waited else 0.0

    @property
    def over(self) -> bool:
        """Whether its time limit has ended."""
        return time.monotonic() - self._received >= self._limit_s

    def time_for_search_ms(self) -> float:
        """What is left of the time limit, which counts from the last byte received.

        Raises:
            BusyError: the wait left less than half, or the service is stopping.
        """
        now = time.monotonic()
        if self.cancel.cancelled:
            raise BusyError(_ENDING, _RETRY_WHEN_ENDING_S)
        left, least = self._limit_s - (now - self._received), _LEAST_SHARE * self._limit_s
        # Where reading alone takes that long, trying again would not help.
        if self.waited_ms and left < least <= self._limit_s - (now - self._begun):
            raise BusyError(_LATE, self._retry_after)
        return max(_LEAST_MS, left * 1000)

    def refuse_if_cut(self) -> None:
        """Do nothing if the work had all its time; finding nothing is then its own answer.

        Raises:
            BusyError: it waited, or was told to end.
        """
        if self.cancel.cancelled:
            raise BusyError(_ENDING, _RETRY_WHEN_ENDING_S)
        if self.waited_ms:
            raise BusyError(_LATE, self._retry_after)


class _Job:
    """Work that waits or runs."""

    def __init__(self, work: Callable[[Turn], Any], turn: Turn) -> None:
        self.turn = turn
        self.future: Future[Any] = Future()
        # Since when it waits for something that needs no worker.
        self.left_at: float | None = None
        # So that the work finds its log line, as if it ran where the request came in.
        self.context = copy_context()
        self._work = work

    def run(self, done: Callable[[], None]) -> None:
        """Do it, unless its caller has given up; ``done`` is called before the caller knows."""
        if not self.future.set_running_or_notify_cancel():
            done()
            return
        try:
            result = self.context.run(self._work, self.turn)
        # Whatever it is, it belongs to the caller.
        except BaseException as error:  # noqa: BLE001
            done()
            self.future.set_exception(error)
        else:
            done()
            self.future.set_result(result)


_ELSEWHERE: ContextVar[tuple["SolvePool", _Job] | None] = ContextVar("_ELSEWHERE", default=None)


@contextmanager
def waiting_elsewhere() -> Generator[None, None, None]:
    """What is done within waits for something that needs no worker, such as a database.

    Raises:
        BusyError: others have waited there for long.
    """
    found = _ELSEWHERE.get()
    if found is None or found[1].left_at is not None:
        yield
        return
    pool, job = found
    pool.leave(job)
    try:
        yield
    finally:
        pool.come_back(job)


class SolvePool:
    """Does work in ``workers`` threads and lets ``queue_length`` more wait.

    While clients wait, they take turns, and none of them starts work beyond half the workers (but
    one at least) as long as another one waits. When the queue is full, a client that holds fewer
    places takes the newest place of the client that holds most of them (longest queue drop).

    Work that waits elsewhere for long is set aside while others want its worker, up to ``aside``
    of it, so that a database that does not answer holds up nobody who does not need it. It has to
    wait for a worker before it goes on.
    """

    def __init__(self, *, workers: int, queue_length: int, aside: int = 0) -> None:
        self._workers = workers
        self._most_aside = aside
        self._most = workers + queue_length
        self._threads: ThreadPoolExecutor | None = None
        # The event loop adds to what is held, and the threads take away from it.
        self._lock = threading.Lock()
        self._worker_free = threading.Condition(self._lock)
        self._waiting: list[_Job] = []
        self._running: set[_Job] = set()
        self._aside: set[_Job] = set()
        self._coming_back = 0
        self._last_start: dict[str, float] = {}
        self._ending = False
        self._usual_s = _FIRST_GUESS_S
        self._memory = GivingBack()

    @property
    def workers(self) -> int:
        """How much work may run at one time."""
        return self._workers

    @property
    def queue_length(self) -> int:
        """How much work may wait."""
        return self._most - self._workers

    @property
    def running(self) -> int:
        """How much work runs."""
        return len(self._running)

    @property
    def waiting(self) -> int:
        """How much work waits for a worker."""
        return len(self._waiting)

    @property
    def held(self) -> int:
        """How much work runs or waits."""
        return len(self._waiting) + len(self._running) + len(self._aside)

    async def run(
        self,
        work: Callable[[Turn], T],
        *,
        limit_ms: float,
        client: str = "",
        received: float | None = None,
    ) -> T:
        """Run ``work(turn)`` in a worker and return what it returns.

        If the caller is cancelled, work that waits is dropped and work that runs is told so.

        Args:
            work: what to do.
            limit_ms: the time limit of the request.
            client: who asks; clients take turns.
            received: when the request was there, on the monotonic clock; now if left out.

        Raises:
            BusyError: the queue is full, no worker was free while half the limit was left, or the
                service is ending.
        """
        turn = Turn(client, limit_ms, time.monotonic() if received is None else received)
        job = _Job(work, turn)
        job.context.run(_ELSEWHERE.set, (self, job))
        self._admit(job)
        result: asyncio.Future[T] = asyncio.wrap_future(job.future)
        try:
            while job in self._waiting and (left := turn.latest_start - time.monotonic()) > 0:
                await asyncio.wait({result}, timeout=min(left, _ASIDE_AFTER_S))
                with self._lock:
                    self._start(waited=True)
            if self._withdraw(job):
                raise BusyError(_LATE, self._retry_after())
            return await result
        except asyncio.CancelledError:
            turn.cancel.cancel()
            self._withdraw(job)
            raise

    def leave(self, job: _Job) -> None:
        """Work waits elsewhere from now on.

        Raises:
            BusyError: as much as may be set aside has waited for long.
        """
        now = time.monotonic()
        with self._lock:
            stuck = [e for e in self._aside if now - (e.left_at or now) > _STUCK_S]
            if self._most_aside and len(stuck) >= self._most_aside:
                raise BusyError(_STUCK, self._retry_after())
            job.left_at = now

    def come_back(self, job: _Job) -> None:
        """Work goes on; where it was set aside, in this thread when a worker is free."""
        with self._lock:
            job.left_at = None
            if job not in self._aside:
                return
            self._coming_back += 1
            self._worker_free.wait_for(lambda: self._ending or len(self._running) < self._workers)
            self._coming_back -= 1
            self._aside.remove(job)
            self._running.add(job)

    def end_all(self) -> None:
        """Tell all work that runs to answer with what it has, and refuse what waits or comes."""
        with self._lock:
            self._ending = True
            running, waiting = [*self._running, *self._aside], self._waiting[:]
            self._waiting.clear()
            self._worker_free.notify_all()
        for job in running:
            job.turn.cancel.cancel()
        for job in waiting:
            _refuse(job, BusyError(_ENDING, _RETRY_WHEN_ENDING_S))

    def close(self) -> None:
        """End all work and wait for the threads; work that comes later gets new threads."""
        self.end_all()
        with self._lock:
            threads, self._threads = self._threads, None
        if threads:
            threads.shutdown(wait=True)
        self._ending = False

    def _admit(self, job: _Job) -> None:
        with self._lock:
            if self._ending:
                raise BusyError(_ENDING, _RETRY_WHEN_ENDING_S)
            dropped = self._make_room(job) if self.held >= self._most else None
            self._waiting.append(job)
            self._start(waited=False)
        if dropped:
            _refuse(dropped, BusyError("Others need a place in the queue.", self._retry_after()))

    def _make_room(self, job: _Job) -> _Job | None:
        """Take the newest place of the client with the most, if it has more than this one would.

        Raises:
            BusyError: there is no such place.
        """
        places = Counter(each.turn.client for each in self._waiting)
        longest = max(places, key=lambda client: places[client], default="")
        if places[longest] <= places[job.turn.client] + 1:
            raise BusyError("The queue is full.", self._retry_after())
        dropped = next(e for e in reversed(self._waiting) if e.turn.client == longest)
        self._waiting.remove(dropped)
        return dropped

    def _start(self, *, waited: bool) -> None:
        """Give free workers to whoever is next; the lock is held."""
        if self._threads is None:
            most = self._workers + self._most_aside
            self._threads = ThreadPoolExecutor(most, thread_name_prefix="solve")
        self._set_aside()
        while len(self._running) + self._coming_back < self._workers and (job := self._next()):
            self._waiting.remove(job)
            self._running.add(job)
            self._last_start[job.turn.client] = time.monotonic()
            job.turn.begin(waited=waited, retry_after=self._retry_after())
            self._threads.submit(self._work, job)

    def _set_aside(self) -> None:
        """Take the workers of those who wait elsewhere for long, if others want them."""
        if not self._waiting:
            return
        late = time.monotonic() - _ASIDE_AFTER_S
        room = self._most_aside - len(self._aside)
        stuck = [e for e in self._running if e.left_at is not None and e.left_at < late][:room]
        self._running.difference_update(stuck)
        self._aside.update(stuck)
        if stuck:
            self._worker_free.notify_all()

    def _next(self) -> _Job | None:
        """The first job of the client whose last start is longest ago, if it may start now."""
        clients = dict.fromkeys(job.turn.client for job in self._waiting)
        running = Counter(job.turn.client for job in self._running)
        share = max(1, self._workers // 2) if len(clients) > 1 else self._workers
        allowed = [client for client in clients if running[client] < share]
        if not allowed:
            return None
        client = min(allowed, key=lambda each: self._last_start.get(each, -math.inf))
        return next(job for job in self._waiting if job.turn.client == client)

    def _work(self, job: _Job) -> None:
        start = time.monotonic()

        def done() -> None:
            self._usual_s += _WEIGHT_OF_NEWEST * (time.monotonic() - start - self._usual_s)
            # Before its caller has the result: whoever comes next must find the place free.
            self._release(job)

        job.run(done)
        self._memory.after_work()

    def _release(self, job: _Job) -> None:
        with self._lock:
            self._running.discard(job)
            self._worker_free.notify()
            if self._threads and not self._ending:
                self._start(waited=True)
            there = (*self._waiting, *self._running, *self._aside)
            held = {each.turn.client for each in there}
            # A client with nothing here is forgotten, so that this does not grow with each one.
            self._last_start = {c: t for c, t in self._last_start.items() if c in held}

    def _withdraw(self, job: _Job) -> bool:
        """Take work off the queue; False if it has begun."""
        with self._lock:
            if job not in self._waiting:
                return False
            self._waiting.remove(job)
        return True

    def _retry_after(self) -> int:
        """Whole seconds until a worker should be free for one more request."""
        ahead = math.ceil((self.held + 1) / self._workers)
        # A minute at most: it is a guess, and a few long searches should not scare clients off.
        return min(60, max(1, math.ceil(ahead * self._usual_s)))


def _refuse(job: _Job, error: BusyError) -> None:
    """Tell the caller of a job that is no longer in the queue."""
    if job.future.set_running_or_notify_cancel():
        job.future.set_exception(error)
