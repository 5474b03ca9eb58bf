"""The engine on SQLite: workers take chunks for a time, which they renew as long as they live."""

import asyncio
import threading
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from datetime import UTC, datetime
from typing import Final

import sqlalchemy as sa

from wrung_service.store.batches import chunks
from wrung_service.store.batches.chunks import BegunChunk, Chunk
from wrung_service.store.batches.engine import LeavingError, Working, until_through
from wrung_service.store.engine import Store
from wrung_service.store.errors import UnavailableError

_LOOK_EVERY_S: Final = 0.2
_AGAIN_S: Final = 1.0
"""After a fault."""
_RENEWALS: Final = 3
"""In the time of a lease, so that one that is late costs nothing."""


class Leases:
    """Takes chunks by writing down until when; there is one writer at a time, so never twice."""

    def __init__(self, store: Store) -> None:
        self._store = store

    def submit(self, connection: sa.Connection, chunks: Sequence[Chunk]) -> None:
        """Nothing: what is written down is found."""

    async def work(self, working: Working) -> None:
        """Run chunks in threads until told to stop."""
        worker = _Worker(self._store, working)
        loop = asyncio.get_running_loop()
        with ThreadPoolExecutor(working.places + 1, thread_name_prefix="chunk") as threads:
            with suppress(LeavingError):
                await loop.run_in_executor(threads, worker.inherit)
            running = [loop.run_in_executor(threads, worker.renew)]
            running += [loop.run_in_executor(threads, worker.take) for _ in range(working.places)]
            await working.stop.wait()
            worker.stopping.set()
            await asyncio.gather(*running)


class _Worker:
    def __init__(self, store: Store, working: Working) -> None:
        self._store, self._working, self._name = store, working, working.name
        self._held: set[int] = set()
        self.stopping = threading.Event()

    def inherit(self) -> None:
        """Have nobody wait for the leases of the worker whose place this one takes.

        Raises:
            LeavingError: told to stop while the database was away.
        """
        store, name, leave = self._store, self._name, self._working.stop.is_set
        now = datetime.now(UTC)
        until_through(lambda: store.write(lambda c: chunks.end_leases(c, name, now)), leave)

    def take(self) -> None:
        """Run one chunk after another."""
        while not self.stopping.is_set():
            wait = _LOOK_EVERY_S
            try:
                if (begun := self._take()) is not None:
                    self._run(begun)
                    wait = 0.0
            # Whatever it is, the lease of the chunk ends, and the thread goes on.
            except Exception as error:  # noqa: BLE001
                self._working.note(error)
                wait = _AGAIN_S
            self.stopping.wait(wait)

    def renew(self) -> None:
        """Hold on to the chunks that are being run."""
        while not self.stopping.wait(self._working.lease.total_seconds() / _RENEWALS):
            try:
                self._renew(frozenset(self._held))
            except UnavailableError as error:
                self._working.note(error)

    def _renew(self, held: frozenset[int]) -> None:
        until = datetime.now(UTC) + self._working.lease
        if held:
            self._store.write(lambda c: chunks.renew_leases(c, self._name, held, until))

    def _take(self) -> BegunChunk | None:
        now = datetime.now(UTC)
        with self._store.reading() as connection:
            if not chunks.any_to_take(connection, now):
                return None
        return self._store.write(
            lambda c: chunks.take_chunk(c, self._name, now, self._working.lease)
        )

    def _run(self, begun: BegunChunk) -> None:
        self._held.add(begun.n)
        try:
            with suppress(LeavingError):
                self._working.run(begun, self._working.stop.is_set)
        finally:
            self._held.discard(begun.n)
