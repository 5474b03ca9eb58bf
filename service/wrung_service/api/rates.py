"""How often a caller may ask: a sliding window of a minute, in the memory of each process."""

import math
import time
from typing import Final

from limits import RateLimitItemPerMinute
from limits.storage import MemoryStorage
from limits.strategies import SlidingWindowCounterRateLimiter

from wrung_service.api.problem_types import TOO_MANY_REQUESTS
from wrung_service.api.problems import Refusal

_SPACE: Final = "wrung"


class Rates:
    """Counts requests by caller."""

    def __init__(self, per_minute: int) -> None:
        """``per_minute`` is the most of each; 0 for any number."""
        self._limit = RateLimitItemPerMinute(per_minute, namespace=_SPACE) if per_minute else None
        self._limiter = SlidingWindowCounterRateLimiter(MemoryStorage())

    def count(self, caller: str) -> None:
        """Count one more request.

        Raises:
            Refusal: 429, it is one too many, with the time to wait.
        """
        if self._limit is None or self._limiter.hit(self._limit, caller):
            return
        reset = self._limiter.get_window_stats(self._limit, caller).reset_time
        wait = max(1, math.ceil(reset - time.time()))
        detail = f"More than {self._limit.amount} requests in a minute."
        raise Refusal(TOO_MANY_REQUESTS, detail, headers={"Retry-After": str(wait)})
