"""Answers that were sent without their claims, because these failed their check."""

import threading
from collections.abc import Sequence

from wrung_service.observe.lines import current_line
from wrung_service.observe.logs import Log


class RefusedClaims:
    """Counts them from the start of the process, and logs each as an error.

    Attributes:
        count: how many since then.
    """

    def __init__(self, log: Log) -> None:
        self.count = 0
        self._log = log
        # Called by the workers, several of which may come at once.
        self._lock = threading.Lock()

    def __call__(self, rules: Sequence[str]) -> None:
        """Count one more, which breaks these rules; nothing of the request goes into the log."""
        with self._lock:
            self.count += 1
            count = self.count
        request_id = current_line().request_id
        self._log.error("claims_refused", request_id=request_id, rules=list(rules), count=count)
