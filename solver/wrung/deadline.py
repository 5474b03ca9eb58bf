"""How long a search may go on, how much it may hold, and how to end it from outside."""

import threading
import time
from collections.abc import Callable, Generator
from contextlib import contextmanager

from wrung.errors import InputError, not_positive
from wrung.memory import DEFAULT_MEMORY_MB, Memory
from wrung.stages import Stages
from wrung.tuning import TUNING, Tuning


class Cancel:
    """Ends a running search from another thread; the best plan found so far is its answer.

    If none was found by then, a plan is put together in a few milliseconds.
    """

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._cancelled = False
        self._stops: list[Callable[[], None]] = []

    @property
    def cancelled(self) -> bool:
        """Whether `cancel` was called."""
        return self._cancelled

    def cancel(self) -> None:
        """End the search; calling it again, or after the end, does nothing."""
        with self._lock:
            self._cancelled = True
            stops = list(self._stops)
        # Outside the lock: a search that ends needs the lock to take its stop off the list.
        for stop in stops:
            stop()

    @contextmanager
    def stopping(self, stop: Callable[[], None]) -> Generator[None, None, None]:
        """Call ``stop`` if cancelled while the block runs."""
        with self._lock:
            self._stops.append(stop)
            cancelled = self._cancelled
        # Cancelled before this stop was on the list: nobody else will call it.
        if cancelled:
            stop()
        try:
            yield
        finally:
            with self._lock:
                self._stops.remove(stop)


class Deadline:
    """When a search has to answer with what it has; how much it may hold, and what it may try.

    ``whole_ms`` is the limit of the whole search where this is the deadline of a part of it, ms.
    """

    def __init__(
        self,
        limit_ms: float,
        cancel: Cancel | None = None,
        memory: Memory | None = None,
        tuning: Tuning = TUNING,
        stages: Stages | None = None,
    ) -> None:
        # Unlike the time of day, this clock is never set back.
        self.start = time.monotonic()
        self.cancel = cancel or Cancel()
        self.memory = memory or Memory()
        self.tuning = tuning
        self.stages = stages or Stages()
        self.whole_ms = limit_ms
        self._end = self._whole_end = self.start + limit_ms / 1000
        # Of the whole search; its parts have the list in common.
        self._extra: list[Deadline] = []

    @property
    def remaining(self) -> float:
        """Seconds left, never negative; 0 once cancelled."""
        return 0.0 if self.cancel.cancelled else max(0.0, self._end - time.monotonic())

    @property
    def passed(self) -> bool:
        """Whether the time is up or the search was cancelled."""
        return self.remaining == 0.0

    @property
    def elapsed_ms(self) -> float:
        """Time since the start, ms."""
        return (time.monotonic() - self.start) * 1000

    def keeping(self, most_ms: float) -> "Deadline":
        """A deadline before this one that keeps so much, ms, for what follows the engines."""
        left_ms = max(self.remaining * 1000, 1)
        return self.share(max(self.tuning.least_share_for_engines, 1 - most_ms / left_ms))

    def share(self, fraction: float, most_ms: float = float("inf")) -> "Deadline":
        """A deadline after a fraction of the time left, with all else the same."""
        limit_ms = min(self.remaining * 1000 * fraction, most_ms)
        shared = Deadline(limit_ms, self.cancel, self.memory, self.tuning, self.stages)
        shared.whole_ms, shared._whole_end = self.whole_ms, self._whole_end
        shared._extra = self._extra
        return shared

    def late(self) -> "Deadline":
        """A little more time, for what must not be missing where a machine stood still for all.

        After the end of the whole search, all its parts together have no more than that.
        """
        limit_ms = self.tuning.overtime * self.whole_ms
        extra = Deadline(limit_ms, self.cancel, self.memory, self.tuning, self.stages)
        if time.monotonic() < self._whole_end:
            return extra
        if not self._extra:
            self._extra.append(extra)
        return self._extra[0]


def limits(
    time_limit_ms: float, cancel: Cancel | None, memory_limit_mb: float = DEFAULT_MEMORY_MB
) -> Deadline:
    """The limits of one call; its time begins now.

    Raises:
        InputError: there is no time, or no memory.
    """
    given = {"/time_limit_ms": time_limit_ms, "/memory_limit_mb": memory_limit_mb}
    if faults := not_positive(given):
        raise InputError(faults)
    return Deadline(time_limit_ms, cancel, Memory(memory_limit_mb))
