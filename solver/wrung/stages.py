"""How long each part of a search took, for whoever watches the service."""

import time
from types import TracebackType
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

    def timed(self, stage: Stage) -> "_Timed":
        """Note how long the block takes, however it ends."""
        return _Timed(self, stage)

    def note(self, stage: Stage, began: float) -> None:
        """A stage is over that began then, on the monotonic clock."""
        took = time.monotonic() - began
        since = (began - self._start) * 1000
        self._times.append(StageTime(stage=stage, began_ms=since, took_ms=took * 1000))


class _Timed:
    """A block that is timed; a class, as a generator takes three times as long."""

    def __init__(self, stages: Stages, stage: Stage) -> None:
        self._stages = stages
        self._stage: Stage = stage

    def __enter__(self) -> None:
        self._began = time.monotonic()

    def __exit__(
        self, _: type[BaseException] | None, __: BaseException | None, ___: TracebackType | None
    ) -> None:
        self._stages.note(self._stage, self._began)
