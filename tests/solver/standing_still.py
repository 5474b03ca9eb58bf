"""A machine that stands still in the middle of a search, without anybody waiting for it."""

import time
from types import SimpleNamespace

import pytest

from wrung import deadline
from wrung.deadline import Deadline

AMPLE_MS = 600_000
"""So much that what is left after the end is enough on any machine."""


class Clock:
    """The clock of deadlines, which can be put forward."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self._ahead_s = 0.0
        monkeypatch.setattr(deadline, "time", SimpleNamespace(monotonic=self._now))

    def stand_still(self, until: Deadline) -> None:
        """For all the time that is left."""
        self._ahead_s += until.remaining

    def _now(self) -> float:
        return time.monotonic() + self._ahead_s
