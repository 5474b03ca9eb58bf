"""Whether the service is ready: a cached self-test, and whether the service is stopping."""

import asyncio
import time
from collections.abc import Callable
from typing import Final

from wrung_service.observe.logs import Log, frames

_FRESH_S: Final = 30.0


class Health:
    """Knows whether the service is ready."""

    def __init__(self, self_test: Callable[[], bool], log: Log) -> None:
        self._self_test = self_test
        self._log = log
        self._lock = asyncio.Lock()
        self._tested = float("-inf")
        self._passed = False
        self._ending = False

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
        return None if self._passed else "The self test failed."

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
