"""How much memory the process holds, and giving back what searches have freed."""

import ctypes
import os
import threading
from collections.abc import Callable
from pathlib import Path
from typing import Final

_STATM: Final = Path("/proc/self/statm")
_MB: Final = 1_000_000
_WORTH_IT_MB: Final = 32
"""How much the process must have grown; giving back less is not worth the milliseconds."""


def resident_mb() -> float | None:
    """Resident memory of this process, MB; None where the system does not say."""
    try:
        pages = int(_STATM.read_bytes().split()[1])
    except OSError:
        return None
    return pages * os.sysconf("SC_PAGE_SIZE") / _MB


class GivingBack:
    """Asks the C library to give back free memory that it would keep for later."""

    def __init__(self) -> None:
        self._left = resident_mb()
        self._lock = threading.Lock()
        self._trim = _trim()

    def after_work(self) -> None:
        """Do nothing unless the process has grown."""
        held = resident_mb()
        if self._trim is None or held is None or self._left is None:
            return
        if held - self._left >= _WORTH_IT_MB:
            # Two threads that trim at once would do it twice.
            with self._lock:
                self._trim(0)
                self._left = resident_mb()


def _trim() -> Callable[[int], int] | None:
    """Glibc's `malloc_trim`, for all its arenas; other libraries have none."""
    try:
        found: Callable[[int], int] = ctypes.CDLL(None).malloc_trim
    except (AttributeError, OSError, TypeError):
        return None
    return found
