"""Runs the service under uvicorn: says where it listens, and ends in good order on SIGTERM."""

import asyncio
import logging
import signal
from collections.abc import Iterator
from socket import socket
from types import FrameType
from typing import Final

import uvicorn

from wrung_service.app import Service
from wrung_service.observe.logs import ForwardedRecords, Log
from wrung_service.settings import Settings

_TIME_TO_ANSWER_S: Final = 1.0
"""What is kept of the grace period to write the answers of searches that were ended."""


class Server(uvicorn.Server):
    """Ends in steps: unready, then closed to new requests, then searches told to end, then gone."""

    def __init__(self, service: Service, settings: Settings, log: Log) -> None:
        super().__init__(_config(service, settings))
        self._service = service
        self._settings = settings
        self._log = log
        self._loop: asyncio.AbstractEventLoop

    async def startup(self, sockets: list[socket] | None = None) -> None:
        """Start, and say at which address."""
        self._loop = asyncio.get_running_loop()
        await super().startup(sockets)
        for host, port in self._addresses():
            self._log.info("listening", host=host, port=port)

    def handle_exit(self, sig: int, frame: FrameType | None) -> None:
        """Begin to end; a second signal skips the wait for the balancer."""
        # uvicorn's own list: if a signal is in it, this is not the first.
        ending = bool(self._captured_signals)
        self._service.health.end()
        if ending or not self._settings.drain_seconds:
            super().handle_exit(sig, frame)
            return
        # The port stays open meanwhile: a balancer first has to see that /readyz says 503.
        # A signal handler must not wait, so the loop is asked to close later.
        self._captured_signals.append(sig)
        self._log.info("draining", seconds=self._settings.drain_seconds)
        self._loop.call_later(self._settings.drain_seconds, self._close)

    async def shutdown(self, sockets: list[socket] | None = None) -> None:
        """Let requests in flight end; searches that take too long answer with what they have."""
        self._log.info("ending", searches=self._service.pool.held)
        patience = max(0.0, self._settings.grace_seconds - _TIME_TO_ANSWER_S)
        # uvicorn cancels what still runs when the grace period ends, and its answer would be lost.
        hurry = self._loop.call_later(patience, self._service.pool.end_all)
        await super().shutdown(sockets)
        hurry.cancel()
        self._log.info("ended")

    def _close(self) -> None:
        self.should_exit = True

    def _addresses(self) -> Iterator[tuple[str, int]]:
        for server in self.servers:
            for listener in server.sockets:
                host, port, *_ = listener.getsockname()
                yield host, port


def run(service: Service, settings: Settings, log: Log) -> None:
    """Serve until told to end. Sets up `logging` and signals, so it is for a process of its own."""
    logging.basicConfig(handlers=[ForwardedRecords(log)], level=logging.WARNING, force=True)
    # uvicorn raises the signal again once it has ended; ending was what it asked for, so exit 0.
    signal.signal(signal.SIGTERM, _ignore)
    signal.signal(signal.SIGINT, _ignore)
    Server(service, settings, log).run()


def _ignore(_: int, __: FrameType | None) -> None:
    """Nothing is left to do."""


def _config(service: Service, settings: Settings) -> uvicorn.Config:
    return uvicorn.Config(
        service,
        host=settings.bind_host,
        port=settings.bind_port,
        # uvicorn's records then reach the root logger, and so the JSON log as well.
        log_config=None,
        # Each request has its canonical line already.
        access_log=False,
        server_header=False,
        # By default uvicorn would go on after a start-up that failed.
        lifespan="on",
        ws="none",
        timeout_graceful_shutdown=round(settings.grace_seconds),
    )
