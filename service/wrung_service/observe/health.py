"""Whether the service is ready: a cached self-test, its store, and whether it is stopping."""

import asyncio
import time
from collections.abc import Callable
from typing import Final

from wrung_service.observe.logs import Log, frames

_FRESH_S: Final = 30.0
_STORE_FRESH_S: Final = 1.0
_STORE_S: Final = 2.0
"""How long the store may take to answer a probe; less than probes usually wait."""


class Health:
    """Knows whether the service is ready."""

    def __init__(
        self, self_test: Callable[[], bool], log: Log, greet: Callable[[], None] | None = None
    ) -> None:
        """``greet`` asks the store whether it is there, and raises where it is not."""
        self._self_test = self_test
        self._log = log
        self._store = None if greet is None else _StoreHealth(greet, log)
        self._lock = asyncio.Lock()
        self._tested = float("-inf")
        self._passed = False
        self._ending = False

    @property
    def ending(self) -> bool:
        """Whether the service is stopping."""
        return self._ending

    def end(self) -> None:
        """Be unready from now on."""
        self._ending = True

    async def reason_against(self) -> str | None:
        """Why no request should come here; None if all is well."""
        if self._ending:
            return "The service is stopping."
        # Probes that come together wait for one test instead of each starting its own.
        async with self._lock:
            if time.monotonic() - self._tested > _FRESH_S:
                # Not in the solve pool, whose queue may be full: busy is not unready.
                self._passed = await asyncio.to_thread(self._test)
                self._tested = time.monotonic()
        if not self._passed:
            return "The self test failed."
        if self._store is not None and not await self._store.answers():
            return "The store does not answer; requests that need none are served."
        return None

    def _test(self) -> bool:
        try:
            passed = self._self_test()
        except Exception as error:  # noqa: BLE001 - whatever it is, the service cannot solve
            self._log.error(
                "self_test_failed",
                exception=type(error).__name__,
                frames=frames(error.__traceback__),
            )
            return False
        if not passed:
            self._log.error("self_test_failed", exception=None)
        return passed


class _StoreHealth:
    """Knows whether the store answers, and logs when that changes."""

    def __init__(self, greet: Callable[[], None], log: Log) -> None:
        self._greet = greet
        self._log = log
        self._asking: asyncio.Future[None] | None = None
        self._asked = float("-inf")
        self._answered = True

    async def answers(self) -> bool:
        """Whether it does, as of a moment ago; never waits long for it."""
        if time.monotonic() - self._asked > _STORE_FRESH_S:
            # One thread at most waits for it, whatever the number of probes.
            asking = self._asking = self._asking or asyncio.ensure_future(
                asyncio.to_thread(self._greet)
            )
            await asyncio.wait({asking}, timeout=_STORE_S)
            self._note(asking)
        return self._answered

    def _note(self, asking: "asyncio.Future[None]") -> None:
        answered = asking.done() and asking.exception() is None
        if answered is not self._answered:
            self._log.warning("store_back" if answered else "store_lost")
        self._answered = answered
        if asking.done():
            self._asking, self._asked = None, time.monotonic()
