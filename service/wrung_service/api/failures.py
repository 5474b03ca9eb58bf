"""Turns every exception that reaches the top into a problem."""

from collections.abc import Callable
from functools import partial
from typing import Any, Final, TypeAlias
from urllib.parse import quote

from litestar import Response
from litestar.exceptions import HTTPException
from msgspec import UNSET
from msgspec.structs import replace

from wrung_service.api.bodies import HttpRequest
from wrung_service.api.disconnects import ClientGoneError
from wrung_service.api.german import german, german_detail, german_title, wants_german
from wrung_service.api.problem_types import (
    ANSWER_CHECK_FAILED,
    BAD_REQUEST,
    BODY_TOO_LARGE,
    BUSY,
    INTERNAL_ERROR,
    METHOD_NOT_ALLOWED,
    NOT_FOUND,
)
from wrung_service.api.problems import PROBLEM_JSON, FaultyMember, Problem, Refusal
from wrung_service.api.store_failures import as_refusal
from wrung_service.observe.lines import current_line
from wrung_service.observe.logs import Log, frames
from wrung_service.pool import BusyError
from wrung_service.store.errors import StoreError, UnavailableError
from wrung_service.usecases.refused import AnswerRefusedError

Handlers: TypeAlias = dict[int | type[Exception], Callable[[Any, Any], Response[Any]]]

_LONGEST_PATH: Final = 1000
_CLIENT_CLOSED: Final = 499  # what several proxies log for it; nobody is left to receive it


def failure_handlers(log: Log, prefix: str) -> Handlers:
    """Handlers for everything that can be raised while a request is handled.

    ``prefix`` is the path that the service is shown under.
    """
    respond = partial(_respond, prefix)

    def on_crash(request: HttpRequest, error: Exception) -> Response[Any]:
        line = current_line()
        log.error(
            "crash",
            request_id=line.request_id,
            exception=type(error).__name__,
            frames=frames(error.__traceback__),
        )
        return respond(request, Refusal(INTERNAL_ERROR, "The request could not be answered."))

    def on_refused_answer(request: HttpRequest, error: AnswerRefusedError) -> Response[Any]:
        # Only rules: they name the fault, and nothing of the request goes into the log.
        request_id = current_line().request_id
        log.error("answer_refused", request_id=request_id, rules=list(error.rules))
        return respond(request, Refusal(ANSWER_CHECK_FAILED, "The answer did not pass its check."))

    def on_http(request: HttpRequest, error: HTTPException) -> Response[Any]:
        refusal = _refusal(request, error)
        return respond(request, refusal) if refusal else on_crash(request, error)

    def on_busy(request: HttpRequest, error: BusyError) -> Response[Any]:
        headers = {"Retry-After": str(error.retry_after)}
        return respond(request, Refusal(BUSY, error.detail, headers=headers))

    def on_store(request: HttpRequest, error: StoreError) -> Response[Any]:
        if isinstance(error, UnavailableError):
            # What the driver said may quote addresses and values; its kind does not.
            cause = type(error.__cause__).__name__
            log.error(
                "store_unavailable",
                request_id=current_line().request_id,
                detail=str(error),
                cause=cause,
            )
        return respond(request, as_refusal(error))

    return {
        Refusal: respond,
        StoreError: on_store,
        BusyError: on_busy,
        ClientGoneError: _on_client_gone,
        AnswerRefusedError: on_refused_answer,
        HTTPException: on_http,
        Exception: on_crash,
    }


def _respond(prefix: str, request: HttpRequest, refusal: Refusal) -> Response[Any]:
    line = current_line()
    line.outcome = refusal.kind.name
    kind, errors = refusal.kind, refusal.errors
    title, detail, in_german = kind.title, refusal.detail, _in_german(request)
    if in_german:
        title, detail = german_title(kind.name, title), german_detail(detail)
        errors = tuple(replace(each, detail=german(each.detail)) for each in errors)
    problem = Problem(
        type=prefix + kind.uri,
        title=title,
        status=kind.status,
        detail=detail,
        # The path was decoded on its way in; a URI reference must be ASCII again.
        instance=prefix + quote(request.url.path[:_LONGEST_PATH]),
        request_id=line.request_id,
        errors=tuple(FaultyMember(pointer=e.pointer, detail=e.detail) for e in errors),
        taken=refusal.taken or UNSET,
    )
    return Response(
        problem,
        status_code=refusal.kind.status,
        media_type=PROBLEM_JSON,
        headers={
            **refusal.headers,
            "Content-Language": "de" if in_german else "en",
            "Vary": "Accept-Language",
        },
    )


def _in_german(request: HttpRequest) -> bool:
    """As was chosen on a page, else as the browser or program says."""
    if chosen := request.state.get("language"):
        return bool(chosen == "de")
    return wants_german(request.headers.get("accept-language", ""))


def _on_client_gone(_: HttpRequest, __: ClientGoneError) -> Response[Any]:
    current_line().outcome = "client-gone"
    # The framework must answer something; a problem would be written for nobody.
    return Response(b"", status_code=_CLIENT_CLOSED, media_type="text/plain")


def _refusal(request: HttpRequest, error: HTTPException) -> Refusal | None:
    """What the framework itself raises; None for a fault of the service."""
    headers = error.headers or {}
    match error.status_code:
        case NOT_FOUND.status:
            return Refusal(NOT_FOUND, "There is nothing at this address.")
        case METHOD_NOT_ALLOWED.status:
            # Not the framework's method, which is GET where HEAD was asked; its headers hold the
            # Allow that a 405 must have.
            detail = f"{current_line().method} is not allowed here."
            return Refusal(METHOD_NOT_ALLOWED, detail, headers=headers)
        case BODY_TOO_LARGE.status:
            most = request.route_handler.resolve_request_max_body_size()
            return Refusal(BODY_TOO_LARGE, f"The body is larger than {most} bytes.")
        case status if status < INTERNAL_ERROR.status:
            return Refusal(BAD_REQUEST, f"{error.detail}.", headers=headers)
        case _:
            return None
