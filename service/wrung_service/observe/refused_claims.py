"""Answers that went out without what they claimed, as it failed its check."""

import threading
from collections.abc import Sequence

from wrung_service.observe.lines import current_line
from wrung_service.observe.logs import Log


class RefusedClaims:
    """Counts them from the start of the process, and logs each as an error.

    Attributes:
        count: so many since then.
    """

    def __init__(self, log: Log) -> None:
        self.count = 0
        self._log = log
        # Told by the workers, of which several may come at once.
        self._lock = threading.Lock()

    def __call__(self, rules: Sequence[str]) -> None:
        """One more, which breaks these rules; nothing of the request goes into the log."""
        with self._lock:
            self.count += 1
            count = self.count
        request_id = current_line().request_id
        self._log.error("claims_refused", request_id=request_id, rules=list(rules), count=count)
