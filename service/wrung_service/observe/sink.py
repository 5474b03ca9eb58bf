"""Log lines on their way out: whatever happens there, the service goes on."""

import os
import select
import threading
from collections import deque
from typing import Final

import msgspec

_MOST_LINES: Final = 10_000
"""Kept while nobody reads; a few megabytes."""


class LineSink:
    """A stream that a thread of its own writes to a file descriptor.

    A pipe that nobody reads blocks only that thread; a descriptor that is closed swallows
    everything. Lines that find no room are counted, and the count is written as soon as it can be.
    """

    def __init__(self, descriptor: int) -> None:
        self._descriptor = descriptor
        self._lines: deque[bytes] = deque()
        self._dropped = 0
        self._changed = threading.Condition()
        self._idle = True
        # A daemon: what is stuck in a pipe must not keep the process alive.
        threading.Thread(target=self._write_all, name="log", daemon=True).start()

    def write(self, text: str) -> int:
        """Take a line; never waits."""
        with self._changed:
            if len(self._lines) >= _MOST_LINES:
                self._dropped += 1
            else:
                self._lines.append(text.encode())
            self._changed.notify()
        return len(text)

    def flush(self) -> None:
        """Do nothing: lines go out by themselves."""

    def drain(self, seconds: float) -> None:
        """Wait until everything is written, for that long at most."""
        with self._changed:
            self._changed.wait_for(lambda: self._idle and not self._lines, seconds)

    def _write_all(self) -> None:
        while True:
            with self._changed:
                self._idle = True
                self._changed.notify_all()
                self._changed.wait_for(lambda: self._lines)
                self._idle = False
                lines, dropped = list(self._lines), self._dropped
                self._lines.clear()
                self._dropped = 0
            if dropped:
                told = {"event": "lines_dropped", "level": "warning", "count": dropped}
                lines.append(msgspec.json.encode(told) + b"\n")
            self._put(b"".join(lines))

    def _put(self, data: bytes) -> None:
        while data:
            try:
                data = data[os.write(self._descriptor, data) :]
            except BlockingIOError:
                # Whoever started us made it non-blocking; so the thread waits here.
                select.select([], [self._descriptor], [])
            except OSError:
                # Closed, or its reader is gone: there is nobody to tell.
                return
