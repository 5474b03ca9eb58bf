"""The service on a machine whose clock is wrong: ``python skewed.py SECONDS serve ...``.

Only the time of day is shifted, as on such a machine; how long something takes, it sees as it is.
"""

import sys
from datetime import timedelta

from wrung_service.__main__ import main
from wrung_service.store import engine


def _shift(seconds: float) -> None:
    right, by = engine.machine_now, timedelta(seconds=seconds)
    engine.machine_now = lambda: right() + by


if __name__ == "__main__":
    _shift(float(sys.argv.pop(1)))
    main()
