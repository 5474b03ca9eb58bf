"""Reads the body of a request, if it is of the one type that is understood."""

from collections.abc import Sequence
from typing import Any, Final, Literal, TypeAlias

from litestar import Request
from litestar.exceptions import InternalServerException

from wrung_service.api.disconnects import ClientGoneError
from wrung_service.api.german import preferred_language
from wrung_service.api.problem_types import UNSUPPORTED_MEDIA_TYPE
from wrung_service.api.problems import Refusal

HttpRequest: TypeAlias = Request[Any, Any, Any]

JSON: Final = "application/json"
HTML: Final = "text/html"
VARY_BY_LANGUAGE: Final = {"Vary": "Accept-Language"}
"""What an answer says whose sentences are in the `wanted_language` its request."""


def wants_csv(request: HttpRequest) -> bool:
    """Whether the client would rather have CSV than JSON."""
    return preferred(request, JSON, "text/csv") == "text/csv"


def preferred(request: HttpRequest, usual: str, *others: str) -> str:
    """Which of these media types the client would rather have; the usual one if it has no say."""
    return request.accept.best_match([usual, *others]) or usual


def wanted_language(request: HttpRequest) -> Literal["en", "de"] | None:
    """The language that the client prefers of those there are sentences in; None if it has no say.

    What was chosen on a page goes before what the browser says.
    """
    if chosen := request.state.get("language"):
        return "de" if chosen == "de" else "en"
    return preferred_language(request.headers.get("accept-language", ""))


def wants_page(request: HttpRequest) -> bool:
    """Whether a person looks, as browsers say."""
    return preferred(request, JSON, HTML) == HTML


async def read_document(request: HttpRequest, accepted: Sequence[str]) -> bytes:
    """The bytes of a body in one of the accepted media types; `media_type_of` says which.

    Raises:
        Refusal: 415, the body is not declared as one of them, in UTF-8.
        ClientGoneError: the connection was closed in the middle of the body.
    """
    # First, so that a body that is not understood is not received either.
    _check_type(request, accepted)
    try:
        return await request.body()
    except InternalServerException:
        # The one thing that can go wrong inside: the client left before its body was complete.
        raise ClientGoneError from None


def media_type_of(request: HttpRequest) -> str:
    """The media type that the body is declared as, without parameters."""
    media_type, _ = request.content_type
    return media_type


def _check_type(request: HttpRequest, accepted: Sequence[str]) -> None:
    media_type, parameters = request.content_type
    if media_type not in accepted:
        _refuse(
            f"Send {' or '.join(accepted)}, not {media_type[:80] or 'an untyped body'}.", accepted
        )
    # RFC 8259 wants UTF-8 and has no such parameter, but many clients send it all the same.
    if parameters.get("charset", "utf-8").lower() not in ("utf-8", "utf8"):
        _refuse(f"Send {'JSON' if media_type == JSON else 'the body'} in UTF-8.", accepted)
    # Unpacked it could be far larger than the limit, which counts the bytes received.
    if request.headers.get("content-encoding", "identity").lower() != "identity":
        _refuse("Send the body without content encoding.", accepted)


def _refuse(detail: str, accepted: Sequence[str]) -> None:
    headers = {"Accept-Post": ", ".join(accepted)}
    raise Refusal(UNSUPPORTED_MEDIA_TYPE, detail, headers=headers)
