"""What hands chunks to workers: one engine for each database, behind one protocol."""

import asyncio
import time
from collections.abc import Callable, Sequence
from datetime import timedelta
from typing import Final, Protocol, TypeAlias, TypeVar

import sqlalchemy as sa
from msgspec import Struct

from wrung_service.store.batches.chunks import BegunChunk, Chunk
from wrung_service.store.engine import Store
from wrung_service.store.errors import UnavailableError

T = TypeVar("T")

Leave: TypeAlias = Callable[[], bool]
"""Whether the worker is to leave its chunk as soon as it can."""
RunChunk: TypeAlias = Callable[[BegunChunk, Leave], None]
"""Answers what is unanswered of a chunk, in a thread; raises `LeavingError` once given back."""
NoteFault: TypeAlias = Callable[[Exception], None]
"""Told of what went wrong with the database, or in a chunk; the engine goes on."""


class LeavingError(Exception):
    """The worker was told to leave before its chunk was done; others go on with it."""


class Working(Struct, frozen=True, kw_only=True):
    """How a worker works.

    Attributes:
        name: of it, and of whichever is started in its place when it has died.
        places: how many chunks at one time.
        lease: after this time without a sign of life, others take its chunks over.
        stop: set when it is to end; chunks then give back what they have not begun.
    """

    name: str
    run: RunChunk
    note: NoteFault
    places: int
    lease: timedelta
    stop: asyncio.Event


class BatchEngine(Protocol):
    """Hands chunks to workers, each at least once, whatever happens to them."""

    def submit(self, connection: sa.Connection, chunks: Sequence[Chunk]) -> None:
        """Let workers have new chunks, once the transaction is through."""
        ...

    async def work(self, working: Working) -> None:
        """Run chunks until told to stop, also where the database goes and comes back."""
        ...


def until_through(work: Callable[[], T], leave: Leave) -> T:
    """What ``work`` returns, done again and again as long as the database is away.

    Raises:
        LeavingError: the worker is to leave.
    """
    while True:
        try:
            return work()
        except UnavailableError:
            if leave():
                raise LeavingError from None
            time.sleep(_AGAIN_S)


LEASE: Final = timedelta(seconds=15)
"""Shorter than anyone waits in vain, and longer than a busy machine lets a thread wait."""
_AGAIN_S: Final = 0.5


def engine_of(store: Store) -> BatchEngine:
    """The engine for the database of a store."""
    if store.on_sqlite:
        from wrung_service.store.batches.leases import Leases  # noqa: PLC0415 - see below

        return Leases(store)
    # Only where it is needed: it takes a tenth of a second to load, and a few megabytes.
    from wrung_service.store.batches.jobs import Jobs  # noqa: PLC0415

    return Jobs(store)
