"""Which problem an error is, whoever asked: over HTTP, or in a batch."""

from wrung_service.api.problem_types import ANSWER_CHECK_FAILED, BUSY, INTERNAL_ERROR
from wrung_service.api.problems import Refusal
from wrung_service.api.store_failures import as_refusal
from wrung_service.observe.lines import current_line
from wrung_service.observe.logs import Log, frames
from wrung_service.pool import BusyError
from wrung_service.store.errors import StoreError, UnavailableError
from wrung_service.usecases.refused import AnswerRefusedError


def refusal_of(error: Exception, log: Log) -> Refusal:
    """The problem that an error is, whoever asked; what its operator must know is logged."""
    match error:
        case Refusal():
            return error
        case BusyError():
            headers = {"Retry-After": str(error.retry_after)}
            return Refusal(BUSY, error.detail, headers=headers)
        case AnswerRefusedError():
            # Only rules: they name the fault, and nothing of the request goes into the log.
            _log(log, "answer_refused", rules=list(error.rules))
            return Refusal(ANSWER_CHECK_FAILED, "The answer did not pass its check.")
        case StoreError():
            if isinstance(error, UnavailableError):
                # What the driver said may quote addresses and values; its kind does not.
                cause = type(error.__cause__).__name__
                _log(log, "store_unavailable", detail=str(error), cause=cause)
            return as_refusal(error)
        case _:
            trace = frames(error.__traceback__)
            _log(log, "crash", exception=type(error).__name__, frames=trace)
            return Refusal(INTERNAL_ERROR, "The request could not be answered.")


def _log(log: Log, event: str, **members: object) -> None:
    log.error(event, request_id=current_line().request_id, **members)
