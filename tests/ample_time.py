"""Searches and stores of tests have time enough on a machine that is slow or stands still, too."""

from typing import Any, Final

from wrung.coverage import surveying
from wrung.deadline import Deadline, limits
from wrung.planning import alternatives, solve, trade_off
from wrung_service.pool import Turn
from wrung_service.store import bounded, engine

AMPLE_MS: Final = 60_000
_LEAST_MS, _MOST_MS = 1_000, 9_000
_turn_of = Turn.__init__


def give_ample_time() -> None:
    """Let searches in this process have a minute where they are given a few seconds, as is usual.

    Less is the limit of a test that is about it, and more is enough, also where it is reached.
    A request has its minute before it is shared out among its searches, and a store of this process
    waits as long for its database.
    """
    for module in (alternatives, solve, surveying, trade_off):
        assert module.limits is limits
        setattr(module, "limits", _ample)  # noqa: B010 - of tests alone
    setattr(Turn, "__init__", _ample_turn)  # noqa: B010 - the same
    setattr(engine, "WAIT_MS", AMPLE_MS)  # noqa: B010 - the same
    setattr(engine, "CONNECT_S", AMPLE_MS // 1000)  # noqa: B010 - the same
    setattr(bounded, "GREETING_S", AMPLE_MS / 1000)  # noqa: B010 - the same
    bounded.BoundedConnection.patience_s = AMPLE_MS / 1000


def _ample(time_limit_ms: float, *others: Any) -> Deadline:  # noqa: ANN401 - as `limits` takes them
    return limits(_ample_ms(time_limit_ms), *others)


def _ample_turn(turn: Turn, client: str, limit_ms: float, received: float) -> None:
    _turn_of(turn, client, _ample_ms(limit_ms), received)


def _ample_ms(limit_ms: float) -> float:
    return AMPLE_MS if _LEAST_MS <= limit_ms <= _MOST_MS else limit_ms
