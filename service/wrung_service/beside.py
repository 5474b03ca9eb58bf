"""A worker for batches in a process beside the service: there while there is something to do.

A request that makes its process die, for want of memory for one, takes no other request along.
"""

import asyncio
import os
import sys
from asyncio.subprocess import PIPE, Process
from contextlib import suppress
from typing import Final

from wrung_service.observe.logs import Log
from wrung_service.settings import Settings
from wrung_service.settings_reading import PREFIX, variable
from wrung_service.store.engine import Store
from wrung_service.store.errors import UnavailableError
from wrung_service.usecases.batches.waiting_work import anything_to_do
from wrung_service.worker import lasting_name

_LOOK_EVERY_S: Final = 2.0
"""What another process posted is found, too, and what is left of a worker that died."""
_IDLE_S: Final = 60
"""After which the worker ends, and its memory is free."""
_AGAIN_S: Final = 0.5
"""After the end of one, so that one that dies at once is not started without a pause."""
_PATIENCE_S: Final = 3.0
_WITH_PARENT: Final = "--with-parent"


class BesideWorker:
    """Starts a worker where there is something to do, and another one when it dies."""

    def __init__(self, settings: Settings, store: Store, log: Log) -> None:
        self._settings, self._store, self._log = settings, store, log
        self._name = lasting_name()
        self._wanted = asyncio.Event()
        self._ending = False
        self._process: Process | None = None
        self._task: asyncio.Task[None] | None = None

    async def start(self) -> None:
        """Begin, in the event loop that runs."""
        self._task = asyncio.create_task(self._run())

    def wake(self) -> None:
        """Look now: there is something to do."""
        self._wanted.set()

    async def stop(self) -> None:
        """End the worker, which gives back what is not done."""
        self._ending = True
        self._wanted.set()
        if self._process is not None:
            with suppress(ProcessLookupError):
                self._process.terminate()
        if self._task is None:
            return
        with suppress(TimeoutError):
            async with asyncio.timeout(_PATIENCE_S):
                await self._task
        if self._process is not None and self._process.returncode is None:
            self._process.kill()
            await self._process.wait()

    async def _run(self) -> None:
        while not self._ending:
            with suppress(TimeoutError):
                async with asyncio.timeout(_LOOK_EVERY_S):
                    await self._wanted.wait()
            self._wanted.clear()
            if not self._ending and await self._needed():
                await self._work()
                if not self._ending:
                    await asyncio.sleep(_AGAIN_S)

    async def _needed(self) -> bool:
        try:
            return await asyncio.to_thread(anything_to_do, self._store)
        except UnavailableError:
            return False

    async def _work(self) -> None:
        """Run a worker until it ends."""
        options = ("--idle-seconds", str(_IDLE_S), "--name", self._name, _WITH_PARENT)
        command = ("-m", "wrung_service", "worker", *options)
        # In a session of its own: Ctrl-C is for the service, which ends it in good order.
        self._process = await asyncio.create_subprocess_exec(
            sys.executable, *command, env=self._environment(), stdin=PIPE, start_new_session=True
        )
        code = await self._process.wait()
        if code and not self._ending:
            self._log.error("worker_died", exit_code=code)
            # Another one lets nobody wait for what this one had begun.
            self._wanted.set()

    def _environment(self) -> dict[str, str]:
        """The settings of the service, its flags and files included, as variables."""
        values = {name: getattr(self._settings, name) for name in Settings.__struct_fields__}
        others = {name: each for name, each in os.environ.items() if not name.startswith(PREFIX)}
        return {**others, **{variable(name): str(value) for name, value in values.items()}}
