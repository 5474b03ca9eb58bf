"""JSON lines on a stream. Loggers are made here and handed on; nothing global is set up."""

import logging
import traceback
from types import TracebackType
from typing import Final, Protocol, TextIO, TypeAlias, cast

import msgspec
import structlog
from structlog.typing import EventDict, FilteringBoundLogger

Log: TypeAlias = FilteringBoundLogger

_SERVER: Final = "uvicorn.error"


class Stream(Protocol):
    """Where lines go."""

    def write(self, text: str, /) -> object:
        """Take a line."""
        ...

    def flush(self) -> object:
        """Send it on."""
        ...


def make_log(stream: Stream) -> Log:
    """A logger that writes one JSON object a line, with level and time in UTC."""
    log: Log = structlog.wrap_logger(
        structlog.WriteLogger(cast("TextIO", stream)),
        processors=[
            structlog.processors.add_log_level,
            structlog.processors.TimeStamper(fmt="iso", utc=True, key="time"),
            structlog.processors.JSONRenderer(serializer=_to_json),
        ],
        wrapper_class=structlog.make_filtering_bound_logger(logging.INFO),
        cache_logger_on_first_use=True,
    )
    return log


def silent_log() -> Log:
    """A logger that says nothing, for embedders that want none."""
    log: Log = structlog.wrap_logger(
        structlog.ReturnLogger(),
        processors=[_drop],
        # Spares everything below critical the way to `_drop`.
        wrapper_class=structlog.make_filtering_bound_logger(logging.CRITICAL),
    )
    return log


def frames(trace: TracebackType | None) -> list[str]:
    """Where an exception came from; its message is left out, as it may quote the request."""
    # `extract_tb` would read the sources as well, and keep them.
    places = ((frame.f_code, line) for frame, line in traceback.walk_tb(trace))
    return [f"{code.co_filename}:{line} {code.co_name}" for code, line in places]


class ForwardedRecords(logging.Handler):
    """Hands the records of libraries that use `logging` on to the JSON log.

    Only constant sentences of the server are taken over. Other messages, and what is filled into
    them, may quote requests: asyncio, for one, writes out whole exceptions and transports.
    """

    def __init__(self, log: Log) -> None:
        # What servers say on lower levels, such as that they start, is said here in other lines.
        super().__init__(logging.WARNING)
        self._log = log

    def emit(self, record: logging.LogRecord) -> None:
        """Log the record; of an exception only its type and place."""
        kind, _, trace = record.exc_info or (None, None, None)
        exception = {"exception": kind.__name__, "frames": frames(trace)} if kind else {}
        self._log.log(record.levelno, _sentence(record), logger=record.name, **exception)


def _sentence(record: logging.LogRecord) -> str:
    """What the record may say: its own words without what is filled in, or else its place."""
    if record.name == _SERVER and isinstance(record.msg, str):
        return record.msg.strip()
    # An address that cannot be bound is reported before any request.
    if record.name == _SERVER and isinstance(record.msg, OSError):
        return str(record.msg)
    return f"{record.module}.{record.funcName}:{record.lineno}"


def _to_json(event: object, **_: object) -> str:
    return msgspec.json.encode(event).decode()


def _drop(_: object, __: str, ___: EventDict) -> EventDict:
    raise structlog.DropEvent
