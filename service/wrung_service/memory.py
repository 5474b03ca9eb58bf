"""How much memory the process holds, and giving back what searches have freed."""

import ctypes
import os
import threading
from collections.abc import Callable
from functools import cache
from typing import Final

_STATM: Final = "/proc/self/statm"
_LONGEST: Final = 200
_MB: Final = 1_000_000
_WORTH_IT_MB: Final = 32
"""How much the process must have grown; giving back less is not worth the milliseconds."""


def resident_mb() -> float | None:
    """Resident memory of this process, MB; None where the system does not say."""
    try:
        statm = _statm()  # first: Windows has neither the file nor `pread`
        pages = int(os.pread(statm, _LONGEST, 0).split()[1])
    except OSError:
        return None
    return pages * _page_size() / _MB


@cache
def _statm() -> int:
    """A descriptor that stays open: each call of the system lets go of the interpreter once."""
    return os.open(_STATM, os.O_RDONLY)


@cache
def _page_size() -> int:
    return os.sysconf("SC_PAGE_SIZE")


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
