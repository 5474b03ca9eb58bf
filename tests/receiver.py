"""A receiver of webhooks on loopback, which answers as a test tells it to."""

import ssl
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import NamedTuple

from patience import PATIENCE_S


class Received(NamedTuple):
    """One request."""

    path: str
    headers: dict[str, str]
    body: str

    @property
    def message_id(self) -> str:
        """The id that the standard tells repeats by."""
        return self.headers["webhook-id"]


class Receiver:
    """What came, and what is answered; 204 once nothing else is left to say."""

    def __init__(self) -> None:
        self.received: list[Received] = []
        self.answers: list[int | Callable[[BaseHTTPRequestHandler], None]] = []
        self.url = ""
        self._came = threading.Condition()

    def take(self, handler: BaseHTTPRequestHandler) -> None:
        """Note a request, and answer it."""
        body = handler.rfile.read(int(handler.headers.get("content-length", "0")))
        headers = {name.lower(): value for name, value in handler.headers.items()}
        with self._came:
            self.received.append(Received(handler.path, headers, body.decode()))
            answer = self.answers.pop(0) if self.answers else 204
            self._came.notify_all()
        if not isinstance(answer, int):
            answer(handler)
            return
        handler.send_response(answer)
        handler.send_header("content-length", "0")
        handler.end_headers()

    def wait_for(self, count: int, seconds: float = PATIENCE_S) -> list[Received]:
        """All that came, once so many did."""
        with self._came:
            assert self._came.wait_for(lambda: len(self.received) >= count, seconds)
            return list(self.received)


class QuietServer(ThreadingHTTPServer):
    """A client that refuses its certificate is no error of a test."""

    def handle_error(self, *_: object) -> None:
        """Say nothing."""


@contextmanager
def receiving(context: ssl.SSLContext | None = None) -> Iterator[Receiver]:
    """A receiver, ended at the end; with a context over TLS."""
    receiver = Receiver()

    class Handler(BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            receiver.take(self)

        def log_message(self, *_: object) -> None:
            """Say nothing."""

    server = QuietServer(("127.0.0.1", 0), Handler)
    server.daemon_threads = True
    if context is not None:
        server.socket = context.wrap_socket(server.socket, server_side=True)
    receiver.url = f"http://127.0.0.1:{server.server_port}/hooks"
    thread = threading.Thread(target=server.serve_forever, args=(0.05,))
    thread.start()
    try:
        yield receiver
    finally:
        server.shutdown()
        thread.join()
        server.server_close()
