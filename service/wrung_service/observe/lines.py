"""The canonical line: one a request, with all that is known of it and nothing of its body."""

import time
from contextvars import ContextVar
from typing import TYPE_CHECKING, Any, Final

from msgspec import UNSET, Struct, UnsetType, field
from msgspec.structs import asdict

if TYPE_CHECKING:
    from wrung_service.observe.searches import Search

# Requests take turns in one thread, so a plain global would mix them up.
_line: Final[ContextVar["CanonicalLine"]] = ContextVar("wrung_canonical_line")
_NOT_LOGGED: Final = ("begun", "sampled", "searches")


class CanonicalLine(Struct, kw_only=True):
    """What is said of one request; filled in on its way.

    Attributes:
        request_id: the client's, or one made here.
        method: as received.
        route: template of the route, never the path itself; None if there is none.
        trace_id: of the trace that the request belongs to (W3C Trace Context), if it named one.
        parent_id: of the span that it was sent in, likewise.
        caller: holder of the key or token that it came with; never the key itself.
        status: HTTP status; 0 if no answer was begun.
        duration_ms: from the first byte to the last.
        outcome: outcome of the plan, or the name of the problem.
        solve_ms: time of the search.
        blocks: how many blocks were offered.
        targets: how many targets were asked for.
        waited_ms: how long the request waited for a worker; 0 if one was free.
        cpu_ms: CPU time of the worker that answered it, searching included.
        memory_mb: resident memory of the process when the answer was made.
        memory_grown_mb: by how much that had grown meanwhile, whoever asked for it; other requests
            at the same time are in it.
        begun: when it began, on the clock of `time.perf_counter`; as what follows, not for the log.
        sampled: whether the trace that it named is recorded where it began.
        searches: each with its stages.
    """

    request_id: str
    method: str
    route: str | None = None
    trace_id: str | UnsetType = UNSET
    parent_id: str | UnsetType = UNSET
    caller: str | UnsetType = UNSET
    status: int = 0
    duration_ms: float = 0.0
    outcome: str | UnsetType = UNSET
    solve_ms: float | UnsetType = UNSET
    blocks: int | UnsetType = UNSET
    targets: int | UnsetType = UNSET
    waited_ms: float | UnsetType = UNSET
    cpu_ms: float | UnsetType = UNSET
    memory_mb: float | UnsetType = UNSET
    memory_grown_mb: float | UnsetType = UNSET
    begun: float = field(default_factory=time.perf_counter)
    sampled: bool = False
    searches: list["Search"] = field(default_factory=list["Search"])

    def members(self) -> dict[str, Any]:
        """What the log says: all that is known; what does not apply stays out."""
        return {
            name: value
            for name, value in asdict(self).items()
            if value is not UNSET and name not in _NOT_LOGGED
        }


def begin_line(line: CanonicalLine) -> None:
    """Make ``line`` the line of the request that is handled in this context."""
    _line.set(line)


def current_line() -> CanonicalLine:
    """The line of the request that is being handled."""
    return _line.get()


def request_line() -> CanonicalLine | None:
    """The same, or None outside of any request."""
    return _line.get(None)
