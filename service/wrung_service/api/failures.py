"""Turns every exception that reaches the top into a problem."""

from collections.abc import Callable
from functools import partial
from typing import Any, Final, TypeAlias
from urllib.parse import quote

from litestar import Response
from litestar.exceptions import HTTPException

from wrung_service.api.bodies import VARY_BY_LANGUAGE, HttpRequest, wanted_language
from wrung_service.api.disconnects import ClientGoneError
from wrung_service.api.german import german_problem
from wrung_service.api.problem_types import (
    BAD_REQUEST,
    BODY_TOO_LARGE,
    INTERNAL_ERROR,
    METHOD_NOT_ALLOWED,
    NOT_FOUND,
)
from wrung_service.api.problems import PROBLEM_JSON, Refusal, as_problem
from wrung_service.api.refusals import refusal_of
from wrung_service.observe.lines import current_line
from wrung_service.observe.logs import Log

Handlers: TypeAlias = dict[int | type[Exception], Callable[[Any, Any], Response[Any]]]

_LONGEST_PATH: Final = 1000
_CLIENT_CLOSED: Final = 499  # what several proxies log for it; nobody is left to receive it


def failure_handlers(log: Log, prefix: str) -> Handlers:
    """Handlers for everything that can be raised while a request is handled.

    ``prefix`` is the path that the service is shown under.
    """
    respond = partial(_respond, prefix)

    def on_error(request: HttpRequest, error: Exception) -> Response[Any]:
        return respond(request, refusal_of(error, log))

    def on_http(request: HttpRequest, error: HTTPException) -> Response[Any]:
        return respond(request, _refusal(request, error) or refusal_of(error, log))

    return {
        Refusal: respond,
        ClientGoneError: _on_client_gone,
        HTTPException: on_http,
        Exception: on_error,
    }


def _respond(prefix: str, request: HttpRequest, refusal: Refusal) -> Response[Any]:
    line = current_line()
    line.outcome = refusal.kind.name
    # The path was decoded on its way in; a URI reference must be ASCII again.
    instance = quote(request.url.path[:_LONGEST_PATH])
    problem = as_problem(refusal, prefix=prefix, instance=instance, request_id=line.request_id)
    in_german = wanted_language(request) == "de"
    if in_german:
        problem = german_problem(problem, refusal)
    return Response(
        problem,
        status_code=refusal.kind.status,
        media_type=PROBLEM_JSON,
        headers={
            **refusal.headers,
            "Content-Language": "de" if in_german else "en",
            **VARY_BY_LANGUAGE,
        },
    )


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
