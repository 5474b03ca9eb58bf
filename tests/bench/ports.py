"""Ports for servers that cannot be asked which one they were given."""

import random
import socket

_FIRST, _LAST = 20_000, 32_000
"""Below those that systems give to whoever connects, who could come first otherwise."""


def free_port() -> int:
    """A port of the loopback interface that nobody listens on now."""
    while True:
        port = random.SystemRandom().randint(_FIRST, _LAST)
        with socket.socket() as probe:
            try:
                probe.bind(("127.0.0.1", port))
            except OSError:
                continue
        return port
