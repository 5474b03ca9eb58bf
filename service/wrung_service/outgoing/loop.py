"""The loop in the background: sends messages, and looks for what comes to pass by itself."""

import asyncio
from collections.abc import Awaitable, Callable, Generator
from contextlib import contextmanager
from datetime import datetime, timedelta
from typing import Final

from msgspec.structs import replace

from wrung_service.observe.logs import Log, frames
from wrung_service.observe.watch import Traces
from wrung_service.outgoing.sender import Sender
from wrung_service.store.engine import Store
from wrung_service.store.errors import UnavailableError
from wrung_service.usecases.batches.ending import expire_batches
from wrung_service.usecases.webhooks.sending import Post, Reply, note_reply, take_posts
from wrung_service.usecases.webhooks.sweep import sweep

SEND_EVERY_S: Final = 1.0
SWEEP_EVERY_S: Final = 30.0
_SOON_S: Final = 0.1
"""While there is something to send."""
_MOST: Final = 16
"""Messages on their way at one time."""
_EACH: Final = 4
"""Of these to one endpoint, so that a slow one leaves room for others."""
_PATIENCE_S: Final = 2.0
"""For what is under way when the service ends; whoever comes next sends again what is cut off."""


class Background:
    """One for each process; several on one database share the work."""

    def __init__(  # noqa: PLR0913 - what it works with
        self,
        store: Store,
        make_sender: Callable[[], Sender],
        clock: Callable[[], datetime],
        log: Log,
        *,
        batches_kept: timedelta,
        traces: Traces | None = None,
    ) -> None:
        self._store = store
        self._batches_kept = batches_kept
        self._make_sender = make_sender
        self._clock = clock
        self._log = log
        self._traces = traces
        self._ending = asyncio.Event()
        self._task: asyncio.Task[None] | None = None
        self._on_their_way: dict[asyncio.Task[None], tuple[str, str]] = {}
        self._unavailable = False

    async def start(self) -> None:
        """Begin, in the event loop that runs."""
        self._task = asyncio.create_task(self._run())

    async def stop(self) -> None:
        """Take nothing more, and give what is under way a moment to end."""
        self._ending.set()
        tasks = [each for each in (self._task, *self._on_their_way) if each is not None]
        if not tasks:
            return
        _, late = await asyncio.wait(tasks, timeout=_PATIENCE_S)
        for each in late:
            each.cancel()
        await asyncio.gather(*tasks, return_exceptions=True)

    async def _run(self) -> None:
        # The certificates of the system are read, which takes a moment.
        sender = await asyncio.to_thread(self._make_sender)
        time, next_sweep = asyncio.get_running_loop().time, 0.0
        try:
            while not await self._ends_within(_SOON_S if self._on_their_way else SEND_EVERY_S):
                if time() >= next_sweep:
                    await self._guarded(self._sweep())
                    next_sweep = time() + SWEEP_EVERY_S
                await self._guarded(self._send(sender))
        finally:
            await asyncio.gather(*self._on_their_way, return_exceptions=True)
            await sender.close()

    async def _ends_within(self, seconds: float) -> bool:
        try:
            async with asyncio.timeout(seconds):
                return await self._ending.wait()
        except TimeoutError:
            return False

    async def _sweep(self) -> None:
        await asyncio.to_thread(sweep, self._store, self._clock())
        kept = self._batches_kept
        await asyncio.to_thread(expire_batches, self._store, self._clock(), kept)

    async def _send(self, sender: Sender) -> None:
        """Set what is due on its way, as far as there is room."""
        busy = frozenset(self._on_their_way.values())
        room = _MOST - len(self._on_their_way)
        if room <= 0:
            return
        posts = await asyncio.to_thread(
            take_posts, self._store, self._clock(), most=room, each=_EACH, without=busy
        )
        for post in posts:
            task = asyncio.create_task(self._guarded(self._deliver(sender, post)))
            self._on_their_way[task] = (post.delivery.site_id, post.delivery.endpoint_id)
            task.add_done_callback(self._on_their_way.pop)

    async def _deliver(self, sender: Sender, post: Post) -> None:
        with self._span(post) as traced:
            reply = await sender.send(traced)
        self._log_reply(post, reply)
        await asyncio.to_thread(note_reply, self._store, post.delivery, reply, self._clock())

    @contextmanager
    def _span(self, post: Post) -> Generator[Post, None, None]:
        """The message with the headers that name its span, where spans are made."""
        if self._traces is None:
            yield post
            return
        with self._traces.sending(post.delivery.event) as headers:
            yield replace(post, headers={**post.headers, **headers})

    def _log_reply(self, post: Post, reply: Reply) -> None:
        """Neither the address, which may hold a password, nor anything that was sent."""
        sent = post.delivery
        self._log.info(
            "webhook",
            site=sent.site_id,
            webhook=sent.endpoint_id,
            message=sent.message_id,
            type=sent.event,
            tries=sent.tries,
            status=reply.status,
            fault=reply.fault,
        )

    async def _guarded(self, work: Awaitable[None]) -> None:
        """Do it; what goes wrong is logged, and never ends the loop."""
        try:
            await work
            self._unavailable = False
        except UnavailableError as error:
            # Once: it would be a line a second until the database is back.
            if not self._unavailable:
                self._log.error("background_waits", detail=str(error))
            self._unavailable = True
        except Exception as error:  # noqa: BLE001 - the loop must go on
            self._log.error(
                "background_crash",
                exception=type(error).__name__,
                frames=frames(error.__traceback__),
            )
