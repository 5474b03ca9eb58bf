"""The process that answers batches: ``wrung worker``; any number of them on one database."""

import asyncio
import logging
import os
import secrets
import signal
import socket
import threading
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from typing import Final

import wrung
from wrung_service.api.batches.answering import Answerer
from wrung_service.api.stacks.reading import Clock
from wrung_service.api.stacks.work import StackWork
from wrung_service.api.storing import StoreDoor, looking_up
from wrung_service.memory import GivingBack
from wrung_service.observe.logs import ForwardedRecords, Log, frames
from wrung_service.observe.refused_claims import RefusedClaims
from wrung_service.observe.sink import LineSink
from wrung_service.settings import Settings
from wrung_service.store.batches.chunks import BegunChunk
from wrung_service.store.batches.engine import LEASE, Leave, Working, engine_of
from wrung_service.store.engine import Store
from wrung_service.store.errors import UnavailableError
from wrung_service.usecases.batches.run_chunk import ChunkWork
from wrung_service.usecases.batches.waiting_work import anything_to_do, ended_among
from wrung_service.usecases.solve_stacks import Solve

_LOOK_EVERY_S: Final = 1.0
_TIME_FOR_LAST_LINES_S: Final = 1.0
_STANDARD_INPUT: Final = 0
_NICENESS: Final = 5
_KILLED_BY: Final = 128
"""Added to a signal's number, it is the exit code of a process that the signal ended."""


class BatchWorker:
    """Answers batches until told to end."""

    def __init__(  # noqa: PLR0913 - what tests replace
        self,
        settings: Settings,
        store: Store,
        log: Log,
        *,
        solve: Solve | None = None,
        clock: Clock | None = None,
        lease: timedelta = LEASE,
        name: str = "",
    ) -> None:
        """``solve``, ``clock`` and ``lease`` are replaced in tests; for ``name`` see below."""
        self._name = name or lasting_name()
        clock = clock or store.now
        self._settings, self._store, self._log, self._lease = settings, store, log, lease
        limits = settings.limits
        look_up = looking_up(StoreDoor(store), clock)
        note = RefusedClaims(log)
        work = StackWork(solve or wrung.solve, limits, clock, note, look_up)
        self._answerer = Answerer(work, limits, log, settings.path_prefix)
        self._chunks = ChunkWork(
            store,
            self._answerer.answer,
            self._answerer.answer_deadly,
            clock,
            settings.batches_kept,
        )
        self._memory = GivingBack()
        self._stop = asyncio.Event()
        self._busy_at = time.monotonic()
        self._unavailable = False

    async def run(self, idle_seconds: float = 0.0) -> None:
        """Answer batches until `end`, or until there was nothing to do for so long; 0: never."""
        working = Working(
            name=self._name,
            run=self._run,
            note=self._note,
            places=self._settings.solve_workers,
            lease=self._lease,
            stop=self._stop,
        )
        self._log.info("worker_ready", places=working.places, name=working.name)
        with ThreadPoolExecutor(1) as thread:
            looking = asyncio.create_task(self._look_after(thread, idle_seconds))
            await engine_of(self._store).work(working)
            await looking
        self._log.info("worker_ended")

    def end(self) -> None:
        """Give back what is not done, and end; in the event loop."""
        self._stop.set()
        self._answerer.end()

    def _run(self, chunk: BegunChunk, leave: Leave) -> None:
        began = time.monotonic()
        try:
            self._chunks(chunk, leave)
        finally:
            self._busy_at = time.monotonic()
            self._log.info(
                "chunk",
                batch=chunk.batch,
                first=chunk.first,
                last=chunk.last,
                attempts=chunk.attempts,
                duration_ms=round((self._busy_at - began) * 1000, 2),
            )
        self._unavailable = False
        self._memory.after_work()

    async def _look_after(self, thread: ThreadPoolExecutor, idle_seconds: float) -> None:
        """End searches of batches that have ended; end the worker where there is nothing to do."""
        loop = asyncio.get_running_loop()
        while not self._stop.is_set():
            await _wait(self._stop, _LOOK_EVERY_S)
            try:
                if running := self._answerer.running():
                    self._busy_at = time.monotonic()
                    ended = await loop.run_in_executor(thread, ended_among, self._store, running)
                    self._answerer.cut_short(ended.__contains__)
                elif 0 < idle_seconds < time.monotonic() - self._busy_at:
                    if await loop.run_in_executor(thread, anything_to_do, self._store):
                        self._busy_at = time.monotonic()
                    else:
                        self.end()
            except UnavailableError as error:
                self._note(error)

    def _note(self, error: Exception) -> None:
        if not isinstance(error, UnavailableError):
            trace = frames(error.__traceback__)
            self._log.error("worker_crash", exception=type(error).__name__, frames=trace)
        elif not self._unavailable:
            # Once: it would be a line a second until the database is back.
            self._log.error("worker_waits", detail=str(error))
            self._unavailable = True


def lasting_name() -> str:
    """The name of a worker that whichever is started in its place gets again, if there is one.

    That one then knows at once that what was begun under its name is nobody's any more. The host
    of a container's first process is that container, which keeps its name when it starts again.
    """
    return socket.gethostname() if os.getpid() == 1 else secrets.token_hex(8)


async def _wait(event: asyncio.Event, seconds: float) -> None:
    try:
        async with asyncio.timeout(seconds):
            await event.wait()
    except TimeoutError:
        pass


def run_worker(  # noqa: PLR0913 - how a process runs and ends
    worker: BatchWorker,
    settings: Settings,
    log: Log,
    sink: LineSink,
    *,
    idle_seconds: float = 0.0,
    with_parent: bool = False,
) -> None:
    """Run a worker until a signal. Sets up `logging` and signals: for a process of its own.

    Args:
        worker: what answers.
        settings: those of the worker.
        log: takes the log lines.
        sink: where they go.
        idle_seconds: end when there was nothing to do for so long; 0: never.
        with_parent: end when standard input is closed.
    """
    logging.basicConfig(handlers=[ForwardedRecords(log)], level=logging.WARNING, force=True)
    try:
        asyncio.run(_run(worker, settings, idle_seconds, with_parent=with_parent))
    finally:
        sink.drain(_TIME_FOR_LAST_LINES_S)


async def _run(
    worker: BatchWorker, settings: Settings, idle_seconds: float, *, with_parent: bool
) -> None:
    loop = asyncio.get_running_loop()
    ending = threading.Event()

    def end() -> None:
        # Whatever hangs, others take over what is left.
        loop.call_later(settings.grace_seconds, os._exit, 0)
        worker.end()

    def on_signal(number: int, _: object) -> None:
        # A second one ends the process at once.
        if ending.is_set():
            os._exit(_KILLED_BY + number)
        ending.set()
        loop.call_soon_threadsafe(end)

    for name in ("SIGTERM", "SIGINT", "SIGHUP"):
        if hasattr(signal, name):
            signal.signal(getattr(signal, name), on_signal)
    if with_parent:
        _when_input_ends(lambda: loop.call_soon_threadsafe(end))
        # Whoever waits at the bench goes before what runs in the background of the same machine.
        if hasattr(os, "nice"):
            os.nice(_NICENESS)
    await worker.run(idle_seconds)


def _when_input_ends(end: Callable[[], object]) -> None:
    """Call it once standard input is closed, as it is when whoever opened it is gone."""

    def read() -> None:
        # Not by `sys.stdin`, whose lock a daemon must not hold when the interpreter ends.
        while os.read(_STANDARD_INPUT, 1024):
            pass
        end()

    threading.Thread(target=read, name="parent", daemon=True).start()
