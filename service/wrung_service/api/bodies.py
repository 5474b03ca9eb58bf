"""Reads the body of a request, if it is of the one type that is understood."""

from typing import Any, Final, TypeAlias

from litestar import Request
from litestar.exceptions import InternalServerException

from wrung_service.api.disconnects import ClientGoneError
from wrung_service.api.problem_types import UNSUPPORTED_MEDIA_TYPE
from wrung_service.api.problems import Refusal

HttpRequest: TypeAlias = Request[Any, Any, Any]

JSON: Final = "application/json"


async def read_json_body(request: HttpRequest) -> bytes:
    """The bytes of a JSON body; the app limits how many.

    Raises:
        Refusal: 415, the body is not declared as JSON in UTF-8.
        ClientGoneError: the connection was closed in the middle of the body.
    """
    _check_type(request)
    try:
        return await request.body()
    except InternalServerException:
        # The one thing that can go wrong inside: the client left before its body was complete.
        raise ClientGoneError from None


def _check_type(request: HttpRequest) -> None:
    media_type, parameters = request.content_type
    if media_type != JSON:
        _refuse(f"Send {JSON}, not {media_type or 'an untyped body'}.")
    if parameters.get("charset", "utf-8").lower() not in ("utf-8", "utf8"):
        _refuse("Send JSON in UTF-8.")
    if request.headers.get("content-encoding", "identity").lower() != "identity":
        _refuse("Send the body without content encoding.")


def _refuse(detail: str) -> None:
    raise Refusal(UNSUPPORTED_MEDIA_TYPE, detail, headers={"Accept-Post": JSON})
