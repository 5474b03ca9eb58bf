"""Receive webhooks: check the signature, tell repeats, answer at once, and work afterwards.

Run it by a Python that has `standardwebhooks`, as the one that `wrung` is installed for:
`python examples/webhook_receiver.py SECRET [PORT]`, with the secret that the service showed when
the webhook was made. It listens on this machine only; let a web server stand before it.
"""

import queue
import sys
import threading
from collections import OrderedDict
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any

from standardwebhooks.webhooks import Webhook, WebhookVerificationError

LONGEST = 20_000
"""Bytes of a message; the service sends no more."""
REMEMBERED = 10_000
"""Ids of messages; a real receiver keeps those of three days in its database."""


class Inbox:
    """Messages that were checked and are new, in the order in which they came."""

    def __init__(self, secret: str) -> None:
        self._webhook = Webhook(secret)
        self._seen: OrderedDict[str, None] = OrderedDict()
        self._lock = threading.Lock()
        self.messages: queue.Queue[dict[str, Any]] = queue.Queue()

    def take(self, body: bytes, headers: dict[str, str]) -> int:
        """The status to answer with."""
        try:
            message = self._webhook.verify(body, headers)
        # What is no text, no base64 or no JSON is not signed by us either.
        except (WebhookVerificationError, ValueError):
            return 401
        with self._lock:
            if headers["webhook-id"] not in self._seen:
                self._seen[headers["webhook-id"]] = None
                self.messages.put(message)
            while len(self._seen) > REMEMBERED:
                self._seen.popitem(last=False)
        return 204


def server(inbox: Inbox, port: int) -> ThreadingHTTPServer:
    """A server that puts what it receives into the inbox."""

    class Handler(BaseHTTPRequestHandler):
        timeout = 10

        def do_POST(self) -> None:
            length = self.headers.get("content-length", "")
            if not length.isdecimal() or int(length) > LONGEST:
                self.send_error(413)
                return
            body = self.rfile.read(int(length))
            names = {name.lower(): value for name, value in self.headers.items()}
            self.send_response(inbox.take(body, names))
            self.end_headers()

        def log_message(self, *_: object) -> None:
            """Say nothing."""

    return ThreadingHTTPServer(("127.0.0.1", port), Handler)


def told(message: dict[str, Any]) -> str:
    """A message in a line."""
    data = message["data"]
    subject = data.get("plan") if message["type"].startswith("plan.") else data.get("block")
    return f"{message['timestamp']} {message['type']}: {subject or data}"


def main() -> None:
    """Print what comes until Ctrl-C."""
    inbox = Inbox(sys.argv[1])
    receiving = server(inbox, int(sys.argv[2]) if sys.argv[2:] else 8010)
    threading.Thread(target=receiving.serve_forever, daemon=True).start()
    print(f"Messages go to http://127.0.0.1:{receiving.server_port}/", flush=True)
    while True:
        print(told(inbox.messages.get()), flush=True)


if __name__ == "__main__":
    main()
