"""How long each part of a search took, for whoever watches the service."""

import time
from collections.abc import Generator
from contextlib import contextmanager
from typing import Literal, TypeAlias

from msgspec import Struct

Stage: TypeAlias = Literal["check", "search", "changes", "explain"]
"""The order is checked; a plan is searched for; of plans as good, one is taken that changes few
blocks and is preferred; what is not served is explained."""


class StageTime(Struct, frozen=True, kw_only=True):
    """One of them.

    Attributes:
        began_ms: from the start of the call.
        took_ms: how long it took.
    """

    stage: Stage
    began_ms: float
    took_ms: float


class Stages:
    """Notes them as a search goes on."""

    def __init__(self) -> None:
        self._start = time.monotonic()
        self._times: list[StageTime] = []

    @property
    def times(self) -> tuple[StageTime, ...]:
        """Those that are over, in the order in which they ended."""
        return tuple(self._times)

    @contextmanager
    def timed(self, stage: Stage) -> Generator[None, None, None]:
        """Note how long the block takes, however it ends."""
        began = time.monotonic()
        try:
            yield
        finally:
            self._times.append(
                StageTime(
                    stage=stage,
                    began_ms=(began - self._start) * 1000,
                    took_ms=(time.monotonic() - began) * 1000,
                )
            )
