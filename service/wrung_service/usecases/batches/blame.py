"""Who is to blame when a worker dies: whatever it did alone."""

import threading
from collections.abc import Generator
from contextlib import contextmanager


class Room:
    """Threads do their work beside one another, or alone: then nobody else dies of it."""

    def __init__(self) -> None:
        self._changed = threading.Condition()
        self._inside = 0
        self._wanted_alone = 0

    @contextmanager
    def beside(self) -> Generator[None, None, None]:
        """Whoever wants to be alone goes first, or would wait for ever."""
        with self._changed:
            self._changed.wait_for(lambda: not self._wanted_alone)
            self._inside += 1
        try:
            yield
        finally:
            self._leave()

    @contextmanager
    def alone(self) -> Generator[None, None, None]:
        """Nobody else is inside meanwhile."""
        with self._changed:
            self._wanted_alone += 1
            self._changed.wait_for(lambda: not self._inside)
            self._inside += 1
        try:
            yield
        finally:
            with self._changed:
                self._wanted_alone -= 1
            self._leave()

    def _leave(self) -> None:
        with self._changed:
            self._inside -= 1
            self._changed.notify_all()
