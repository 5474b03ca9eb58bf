"""Searches of tests end by themselves, on a machine that is slow or stands still, too."""

from typing import Any, Final

from wrung.coverage import surveying
from wrung.deadline import Deadline
from wrung.planning import asking

AMPLE_MS: Final = 60_000
_SHORT_MS: Final = 1_000


def give_ample_time() -> None:
    """Let searches in this process have a minute where they are given a second or more.

    Less is the limit of a test that is about it.
    """
    for module in (asking, surveying):
        setattr(module, "Deadline", _deadline)  # noqa: B010 - of tests alone


def _deadline(limit_ms: float, *others: Any) -> Deadline:  # noqa: ANN401 - of `Deadline`
    return Deadline(limit_ms if limit_ms < _SHORT_MS else max(limit_ms, AMPLE_MS), *others)
