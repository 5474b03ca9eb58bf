"""Results and progress of a batch as they come: lines of NDJSON, and server-sent events."""

import asyncio
import time
from collections.abc import AsyncGenerator, Callable
from typing import Final, TypeAlias, TypeVar

import msgspec
from msgspec import Struct

from wrung_service.api.batches.shapes import write_batch
from wrung_service.api.storing import StoreDoor
from wrung_service.pool import BusyError
from wrung_service.store.batches.answers import MOST_LINES, Line, lines_after
from wrung_service.store.batches.batches import Batch, find_batch
from wrung_service.store.engine import Store
from wrung_service.store.errors import UnavailableError

_LOOK_EVERY_S: Final = 0.2
_SELDOM_S: Final = 1.0
"""Where nothing is new, or the database is away."""
_LONGEST_S: Final = 600.0
"""Of one answer; then the client asks again, and nobody holds a connection for ever."""
_SIGN_EVERY_S: Final = 15.0
"""While nothing is to be told, so that nothing on the way gives the connection up."""
_SIGN: Final = b": goes on\n\n"
END: Final = "end"
_ENCODER: Final = msgspec.json.Encoder()

Pieces: TypeAlias = AsyncGenerator[bytes, None]


T = TypeVar("T")


class Part(Struct, frozen=True, kw_only=True):
    """Some lines of the results.

    Attributes:
        complete: there are no more, and never will be.
    """

    lines: tuple[Line, ...]
    complete: bool

    @property
    def full(self) -> bool:
        """Whether there may be more at once."""
        return len(self.lines) >= MOST_LINES


class Streams(Struct, frozen=True, kw_only=True):
    """What it takes to stream.

    Attributes:
        ending: whether the service is stopping.
    """

    door: StoreDoor
    ending: Callable[[], bool]

    async def lines(self, client: str, name: str, after: int, *, wait: bool) -> Pieces:
        """Lines of the results behind a position."""
        cursor = _Cursor(name, after)
        async for part in self._looks(client, cursor, at_once=lambda seen: seen.full):
            if part.lines:
                yield b"".join(line.line.encode() + b"\n" for line in part.lines)
            if part.complete or not (wait or part.lines):
                return

    async def events(self, client: str, name: str, last: str | None) -> Pieces:
        """Events of how far a batch is, but for the one that was received last."""
        told = time.monotonic()
        async for batch in self._looks(client, lambda store: _find(store, name)):
            if batch is None:
                return
            if (event := event_id(batch)) != last:
                yield _event(event, batch)
                last, told = event, time.monotonic()
            if not batch.going_on:
                return
            if time.monotonic() - told > _SIGN_EVERY_S:
                yield _SIGN
                told = time.monotonic()

    async def _looks(
        self,
        client: str,
        look: Callable[[Store], T],
        *,
        at_once: Callable[[T], bool] = lambda _: False,
    ) -> AsyncGenerator[T, None]:
        """What is seen now and again, until the stream was long enough; never an error.

        ``at_once`` says after what was seen the next look does not wait.
        """
        end, wait, before = time.monotonic() + _LONGEST_S, _LOOK_EVERY_S, None
        while time.monotonic() < end and not self.ending():
            try:
                seen = await self.door.ask(client, look)
                yield seen
                if at_once(seen):
                    continue
                # Where nothing happens, many streams must not keep the store busy.
                wait = min(2 * wait, _SELDOM_S) if seen == before else _LOOK_EVERY_S
                before = seen
            # The answer has begun, so it can only wait, or break off.
            except (UnavailableError, BusyError):
                wait = _SELDOM_S
            await asyncio.sleep(wait)


class _Cursor:
    """Goes on where it left off."""

    def __init__(self, name: str, after: int) -> None:
        self._name, self._after = name, after

    def __call__(self, store: Store) -> Part:
        part = part_after(store, self._name, self._after)
        if part.lines:
            self._after = part.lines[-1].position
        return part


def part_after(store: Store, name: str, after: int) -> Part:
    """Lines of the results behind a position, as far as they are there without a gap.

    Raises:
        UnavailableError: the database does not do its work now.
    """
    with store.reading() as connection:
        batch = find_batch(connection, name)
        if batch is None:
            return Part(lines=(), complete=True)
        ended = not batch.going_on
        lines = tuple(lines_after(connection, name, after, with_gaps=ended))
    # Only an empty part tells that there are no more.
    return Part(lines=lines, complete=ended and not lines)


def event_id(batch: Batch) -> str:
    """The id of the event that tells of this state."""
    return str(batch.answered) if batch.going_on else END


def _event(name: str, batch: Batch) -> bytes:
    kind = END if name == END else "progress"
    data = _ENCODER.encode(write_batch(batch))
    return b"event: %b\nid: %b\ndata: %b\n\n" % (kind.encode(), name.encode(), data)


def _find(store: Store, name: str) -> Batch | None:
    with store.reading() as connection:
        return find_batch(connection, name)
