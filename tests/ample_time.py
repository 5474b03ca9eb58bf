"""Searches and stores of tests have time enough on a machine that is slow or stands still, too."""

from typing import Any, Final

from wrung.coverage import surveying
from wrung.deadline import Deadline, limits
from wrung.planning import alternatives, solve, trade_off
from wrung_service.store import engine

AMPLE_MS: Final = 60_000
_LEAST_MS, _MOST_MS = 1_000, 9_000


def give_ample_time() -> None:
    """Let searches in this process have a minute where they are given a few seconds, as is usual.

    Less is the limit of a test that is about it, and more is enough, also where it is reached.
    A store of this process waits as long for its database.
    """
    setattr(engine, "_WAIT_MS", AMPLE_MS)  # noqa: B010 - of tests alone
    setattr(engine, "_CONNECT_S", AMPLE_MS // 1000)  # noqa: B010 - the same
    for module in (alternatives, solve, surveying, trade_off):
        assert module.limits is limits
        setattr(module, "limits", _ample)  # noqa: B010 - of tests alone


def _ample(time_limit_ms: float, *others: Any) -> Deadline:  # noqa: ANN401 - as `limits` takes them
    usual = _LEAST_MS <= time_limit_ms <= _MOST_MS
    return limits(AMPLE_MS if usual else time_limit_ms, *others)
