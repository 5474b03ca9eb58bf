"""Runs the service under uvicorn: says where it listens, and shuts down cleanly on SIGTERM."""

import asyncio
import gc
import logging
import os
import signal
import sys
import threading
from collections.abc import Iterator, Mapping
from socket import socket
from types import FrameType
from typing import Any, Final, NoReturn

import uvicorn
from litestar.types import ASGIApp

from wrung_service.app import Service
from wrung_service.connections import bounded_by
from wrung_service.observe.logs import ForwardedRecords, Log, frames
from wrung_service.observe.sink import LineSink
from wrung_service.settings import Settings
from wrung_service.settings_reading import is_loopback

_TIME_TO_ANSWER_S: Final = 5.0
"""What is kept of the grace period, half of it at most, to write the answers of searches that were
ended: on a machine that is busy, or stands still for a moment, too."""


_TURN_S: Final = 0.001
"""How long a thread runs Python before another may; five times as long by default."""
_TIME_FOR_LAST_LINES_S: Final = 1.0
_KILLED_BY: Final = 128
"""Added to a signal's number, it is the exit code of a process that the signal ended."""


class Server(uvicorn.Server):
    """Ends in steps: unready, then closed to new requests, then searches told to end, then gone."""

    def __init__(self, service: Service, settings: Settings, log: Log, sink: LineSink) -> None:
        super().__init__(config_of(service, settings))
        self._service = service
        self._settings = settings
        self._log = log
        self._sink = sink
        self._loop: asyncio.AbstractEventLoop | None = None
        self._told_to_end = False

    async def startup(self, sockets: list[socket] | None = None) -> None:
        """Start, and say at which address."""
        self._loop = asyncio.get_running_loop()
        self._loop.set_exception_handler(self._on_stray_error)
        await super().startup(sockets)
        _keep_pauses_short()
        for host, port in self._addresses():
            url = address_to_open(host, port)
            self._log.info("listening", host=host, port=port, url=url)
        warn_if_open(self._settings, self._log)

    def handle_exit(self, sig: int, frame: FrameType | None) -> None:
        """Begin to end; a second signal ends the process at once."""
        # Not uvicorn's own, which raises the signal again once it has ended: we exit with 0.
        del frame
        if self._told_to_end:
            self._end_at_once(sig)
        self._told_to_end = True
        if self._loop is None:
            self._close()
            return
        # Not here: what the signal interrupted may hold a lock that a log line needs.
        self._loop.call_soon_threadsafe(self._begin_to_end, self._loop)

    def _begin_to_end(self, loop: asyncio.AbstractEventLoop) -> None:
        self._service.health.end()
        if not self._settings.drain_seconds:
            self._close()
            return
        # The port stays open meanwhile: a balancer first has to see that /readyz says 503.
        self._log.info("draining", seconds=self._settings.drain_seconds)
        loop.call_later(self._settings.drain_seconds, self._close)

    async def shutdown(self, sockets: list[socket] | None = None) -> None:
        """Let requests in flight end; searches that take too long answer with what they have."""
        self._log.info("ending", searches=self._service.pool.held)
        grace = self._settings.grace_seconds
        patience = max(grace / 2, grace - _TIME_TO_ANSWER_S)
        # uvicorn cancels what still runs when the grace period ends, and its answer would be lost.
        loop = asyncio.get_running_loop()
        hurry = loop.call_later(patience, self._service.pool.end_all)
        await super().shutdown(sockets)
        hurry.cancel()
        self._log.info("ended")

    def _close(self) -> None:
        self.should_exit = True

    def _end_at_once(self, sig: int) -> NoReturn:
        """Leave requests as they are and exit; the signal itself would not end process 1."""
        requests = len(self.server_state.tasks)
        # In another thread, for the same reason: if need be, the line is given up.
        last = threading.Thread(
            target=lambda: self._log.warning("ended_at_once", requests=requests), daemon=True
        )
        last.start()
        last.join(_TIME_FOR_LAST_LINES_S)
        self._sink.drain(_TIME_FOR_LAST_LINES_S)
        os._exit(_KILLED_BY + sig)

    def _on_stray_error(self, _: asyncio.AbstractEventLoop, context: Mapping[str, Any]) -> None:
        """Log an error that nobody waits for; its text may quote a request, and is left out."""
        error = context.get("exception")
        self._log.error(
            "stray_error",
            exception=type(error).__name__,
            frames=frames(error.__traceback__) if isinstance(error, BaseException) else [],
        )

    def _addresses(self) -> Iterator[tuple[str, int]]:
        for server in self.servers:
            for listener in server.sockets:
                host, port, *_ = listener.getsockname()
                yield host, port


def address_to_open(host: str, port: int) -> str:
    """What to open in a browser on this machine."""
    # A browser cannot open the addresses that stand for all of them.
    host = {"0.0.0.0": "127.0.0.1", "::": "::1"}.get(host, host)  # noqa: S104 - only compared
    return f"http://{f'[{host}]' if ':' in host else host}:{port}/"


def run(service: Service, settings: Settings, log: Log, sink: LineSink) -> None:
    """Serve until told to end. Sets up `logging` and signals, so it is for a process of its own."""
    logging.basicConfig(handlers=[ForwardedRecords(log)], level=logging.WARNING, force=True)
    server = Server(service, settings, log, sink)
    # uvicorn handles the others. A closed terminal sends this, and so do some supervisors.
    if hasattr(signal, "SIGHUP"):
        signal.signal(signal.SIGHUP, server.handle_exit)
    try:
        server.run()
    finally:
        sink.drain(_TIME_FOR_LAST_LINES_S)


def _keep_pauses_short() -> None:
    """Let the event loop have its turn soon, whatever Python code the workers run."""
    # What exists by now stays: looking through it again would stop all threads for long.
    gc.collect()
    gc.freeze()
    gc.enable()
    sys.setswitchinterval(_TURN_S)


def warn_if_open(settings: Settings, log: Log) -> None:
    """Log a line if other machines can connect, and need no key."""
    if settings.access == "required" or is_loopback(settings.bind_host):
        return
    detail = "Whoever reaches this address can use the service: it asks for no key."
    log.warning("no_access_control", host=settings.bind_host, detail=detail)


def config_of(service: ASGIApp, settings: Settings) -> uvicorn.Config:
    """How uvicorn is to run the service."""
    return uvicorn.Config(
        service,
        host=settings.bind_host,
        port=settings.bind_port,
        http=bounded_by(settings),
        timeout_keep_alive=settings.idle_seconds,
        # uvicorn's records then reach the root logger, and so the JSON log as well.
        log_config=None,
        # Each request has its canonical line already.
        access_log=False,
        server_header=False,
        # Anyone can send X-Forwarded-*; it is believed only from whom the operator named.
        proxy_headers=bool(settings.proxies),
        forwarded_allow_ips=list(settings.proxies),
        # By default uvicorn would go on after a start-up that failed.
        lifespan="on",
        ws="none",
        timeout_graceful_shutdown=round(settings.grace_seconds),
    )
