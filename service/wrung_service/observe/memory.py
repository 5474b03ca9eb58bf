"""How much memory the process holds."""

import os
from pathlib import Path
from typing import Final

_STATM: Final = Path("/proc/self/statm")
_MB: Final = 1_000_000


def resident_mb() -> float | None:
    """Resident memory of this process, MB; None where the system does not tell it so."""
    try:
        pages = int(_STATM.read_bytes().split()[1])
    except OSError:
        return None
    return pages * os.sysconf("SC_PAGE_SIZE") / _MB
