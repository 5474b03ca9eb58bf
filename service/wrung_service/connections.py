"""Connections as uvicorn handles them, with the bounds that it lacks: size, number, time.

uvicorn bounds neither the size of a request's head nor the time that a client takes over head and
body, and it reads trailers as if they were headers. A body that follows an offer to upgrade to
HTTP/2, as Java's client sends it, would be lost. What is refused here goes no further.
"""

import asyncio
import sys
from collections.abc import Callable
from typing import Any, Final

import msgspec
from httptools import HttpRequestParser
from msgspec import Struct
from uvicorn.config import Config
from uvicorn.protocols.http.httptools_impl import STATUS_LINE, HttpToolsProtocol
from uvicorn.server import ServerState

from wrung_service.settings import Settings

_COLON_AND_LINE_END: Final = 4


class Refused(Struct, frozen=True, kw_only=True):
    """Why a connection is closed; the detail never quotes what the client sent."""

    status: int
    title: str
    detail: str
    problem: str = "bad-request"
    retry_after: int | None = None

    def response(self, prefix: str) -> bytes:
        """The whole response; ``prefix`` is the path that the service is shown under."""
        body = msgspec.json.encode(
            {
                "type": f"{prefix}/problems/{self.problem}",
                "title": self.title,
                "status": self.status,
                "detail": self.detail,
            }
        )
        retry = f"retry-after: {self.retry_after}\r\n" if self.retry_after else ""
        head = (
            f"content-type: application/problem+json\r\ncontent-length: {len(body)}\r\n"
            f"{retry}connection: close\r\n\r\n"
        )
        return STATUS_LINE[self.status] + head.encode() + body


_UNREADABLE: Final = "Bad request"
_MALFORMED: Final = Refused(status=400, title=_UNREADABLE, detail="This is not HTTP/1.1.")
_CODING: Final = Refused(
    status=501, title=_UNREADABLE, detail="Transfer-Encoding must be chunked, or left out."
)
_TRAILERS: Final = Refused(status=400, title=_UNREADABLE, detail="Trailers are not accepted.")
_HEAD_TOO_LARGE: Final = Refused(
    status=431, title=_UNREADABLE, detail="The head of the request is too large."
)
_HEAD_TOO_SLOW: Final = Refused(
    status=408, title=_UNREADABLE, detail="The head of the request took too long."
)
_BODY_TOO_SLOW: Final = Refused(
    status=408, title=_UNREADABLE, detail="The body of the request took too long."
)
_CROWDED: Final = Refused(
    status=503,
    title="Service busy",
    detail="There are too many connections.",
    problem="busy",
    retry_after=1,
)


_OF_AN_OFFER: Final = (b"connection", b"upgrade", b"http2-settings")


class _RefusedError(Exception):
    """Leaves a callback of the parser, which cannot return anything."""


class _UpgradeOfferedError(Exception):
    """A request offers to upgrade to another protocol, as Java's client does with HTTP/2."""

    def __init__(self, behind: int) -> None:
        super().__init__(behind)
        self.behind = behind


class BoundedConnection(HttpToolsProtocol):
    """One connection; `bounded_by` sets the bounds."""

    settings: Settings

    def __init__(
        self,
        config: Config,
        server_state: ServerState,
        app_state: dict[str, Any],
        _loop: asyncio.AbstractEventLoop | None = None,
    ) -> None:
        super().__init__(config, server_state, app_state, _loop)
        self._refused: Refused | None = None
        self._patience: asyncio.TimerHandle | None = None
        self._in_head = True
        self._received = 0
        self._fields = 0
        self._head_bytes = 0
        self._offer: bytes | None = None

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Refuse it if there are too many, else wait for its first request."""
        super().connection_made(transport)
        if len(self.connections) > self.settings.max_connections:
            self._close(_CROWDED)
            return
        self._await_head()

    def connection_lost(self, exc: Exception | None) -> None:
        """Wait for nothing more."""
        self._stop_waiting()
        super().connection_lost(exc)

    def data_received(self, data: bytes) -> None:
        """Parse it, unless the connection is being closed."""
        # After a half-close there is no parser left, and what still comes is ignored.
        if self.parser is None or self.transport.is_closing():
            return
        if self._in_head:
            self._received += len(data)
            # An idle connection has no timer of ours; its next request has.
            if self._patience is None:
                self._await_head()
        try:
            super().data_received(data)
        except _UpgradeOfferedError as offered:
            self._go_on_without(offered, data)
        # A field that never ends reaches no callback, so what came in is counted, too.
        if self._in_head and self._received > self.settings.max_header_bytes:
            self._close(_HEAD_TOO_LARGE)

    def on_message_begin(self) -> None:
        """A new head."""
        super().on_message_begin()
        self._in_head, self._fields, self._head_bytes = True, 0, 0

    def on_url(self, url: bytes) -> None:
        """Count the request line."""
        self._head_bytes += len(url)
        super().on_url(url)

    def on_header(self, name: bytes, value: bytes) -> None:
        """Count the fields; after the head they are trailers, which could pass for headers."""
        if not self._in_head:
            self._refuse(_TRAILERS)
        self._fields += 1
        self._head_bytes += len(name) + len(value) + _COLON_AND_LINE_END
        most = self.settings
        if self._fields > most.max_header_count or self._head_bytes > most.max_header_bytes:
            self._refuse(_HEAD_TOO_LARGE)
        if name.lower() == b"transfer-encoding" and value.strip().lower() != b"chunked":
            self._refuse(_CODING)
        super().on_header(name, value)

    def on_headers_complete(self) -> None:
        """Give the request to the application; from now on its body is waited for."""
        if self._head_bytes > self.settings.max_header_bytes:
            self._refuse(_HEAD_TOO_LARGE)
        self._in_head = False
        if self.parser.should_upgrade():
            # The parser now ends the message, and hands over its body as if for the new protocol.
            self._offer = self._head_without_offer()
            return
        super().on_headers_complete()
        self._await(self.settings.body_seconds, self._body_is_late)

    def on_message_complete(self) -> None:
        """Wait for the answer, for however long the application takes."""
        if self._offer is not None:
            return
        self._stop_waiting()
        self._in_head, self._received = True, 0
        super().on_message_complete()

    def _unsupported_upgrade_warning(self) -> None:
        """Where the server finds the offer of another protocol; what follows it is the body."""
        parsed = sys.exc_info()[1]
        raise _UpgradeOfferedError(parsed.args[0] if parsed else 0) from None

    def _head_without_offer(self) -> bytes:
        """The head as a client that speaks only HTTP/1.1 would send it."""
        method, version = self.parser.get_method(), self.parser.get_http_version().encode()
        fields = [each for each in self.headers if each[0] not in _OF_AN_OFFER]
        lines = [b"%b %b HTTP/%b" % (method, self.url, version)]
        lines += [b"%b: %b" % (name, value) for name, value in fields]
        return b"\r\n".join([*lines, b"", b""])

    def _go_on_without(self, offered: "_UpgradeOfferedError", data: bytes) -> None:
        """A server may ignore the offer (RFC 9110, 7.8): read the request anew without it."""
        head, self._offer = self._offer or b"", None
        # Of any type, because the server takes its parser away when a connection is half closed.
        parser: Any = HttpRequestParser(self)
        self.parser = parser
        self.data_received(head + data[offered.behind :])

    def pause_writing(self) -> None:
        """The client is not reading its answer; it has as long for that as for a body."""
        super().pause_writing()
        self._await(self.settings.body_seconds, self.transport.abort)

    def resume_writing(self) -> None:
        """It reads again."""
        super().resume_writing()
        self._stop_waiting()

    def send_400_response(self, msg: str) -> None:
        """Say what is wrong in the form of every other problem, if that can still be said."""
        del msg
        self._close(self._refused or _MALFORMED)

    def _refuse(self, refused: Refused) -> None:
        self._refused = refused
        raise _RefusedError

    def _close(self, refused: Refused) -> None:
        """Answer, unless an answer has begun, and close; the application sees the client leave."""
        self._stop_waiting()
        if self.transport.is_closing():
            return
        cycle: Any = self.cycle
        # While a head is incomplete, the request is the one before it, perhaps already answered.
        in_answer = cycle is not None and (
            not cycle.response_complete if self._in_head else cycle.response_started
        )
        if not in_answer:
            self.transport.write(refused.response(self.settings.path_prefix))
        if cycle is not None and not cycle.response_complete:
            cycle.disconnected = True
            cycle.message_event.set()
        self.transport.close()

    def _await_head(self) -> None:
        self._await(self.settings.header_seconds, lambda: self._close(_HEAD_TOO_SLOW))

    def _body_is_late(self) -> None:
        # A request behind another one is not read until that is answered.
        if self.flow.read_paused:
            self._await(self.settings.body_seconds, self._body_is_late)
            return
        self._close(_BODY_TOO_SLOW)

    def _await(self, seconds: float, otherwise: Callable[[], object]) -> None:
        self._stop_waiting()
        self._patience = self.loop.call_later(seconds, otherwise)

    def _stop_waiting(self) -> None:
        if self._patience is not None:
            self._patience.cancel()
            self._patience = None


def bounded_by(settings: Settings) -> type[BoundedConnection]:
    """The class of connections that keep to these settings."""

    class Bounded(BoundedConnection):
        pass

    Bounded.settings = settings
    return Bounded
