"""What is told of each request when it is over: its log line, its metrics and its trace."""

import time
from contextlib import AbstractContextManager
from typing import Final, Protocol

from wrung_service.observe.lines import CanonicalLine
from wrung_service.observe.logs import Log
from wrung_service.observe.metrics import Metrics

# Probes never stop coming; their lines would bury the others.
_PROBES: Final = frozenset({"/livez", "/readyz", "/metrics"})


class Traces(Protocol):
    """Takes spans, see `wrung_service.observe.traces`."""

    def tell(self, line: CanonicalLine) -> None:
        """Send the spans of a request that is over; notes the trace in its line."""
        ...

    def sending(self, event: str) -> AbstractContextManager[dict[str, str]]:
        """A span for sending a webhook, and the headers that name it to the receiver."""
        ...


class Watch:
    """Tells of requests."""

    def __init__(self, log: Log, metrics: Metrics, traces: Traces | None) -> None:
        self._log, self._metrics, self._traces = log, metrics, traces

    def over(self, line: CanonicalLine) -> None:
        """A request is over."""
        line.duration_ms = round((time.perf_counter() - line.begun) * 1000, 2)
        self._metrics.count(line)
        if line.route in _PROBES:
            return
        if self._traces is not None:
            self._traces.tell(line)
        self._log.info("request", **line.members())
