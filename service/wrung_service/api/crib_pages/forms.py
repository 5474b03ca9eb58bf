"""What a form sends, if it comes from a page of this service."""

from collections.abc import Sequence
from typing import Any, Final, TypeVar
from urllib.parse import parse_qsl, urlsplit

import msgspec
from msgspec import Struct

from wrung_service.api.bodies import HttpRequest, read_document
from wrung_service.api.decoding import BodyDecoder
from wrung_service.api.problem_types import BAD_REQUEST, FORBIDDEN
from wrung_service.api.problems import Refusal

FORM: Final = "application/x-www-form-urlencoded"
_MOST_FIELDS: Final = 1000

T = TypeVar("T", bound=Struct)


class Form(Struct, frozen=True, kw_only=True):
    """The fields of a form, in their order."""

    fields: tuple[tuple[str, str], ...]

    def one(self, name: str) -> str:
        """The first of that name; empty if there is none."""
        return next((value for key, value in self.fields if key == name), "")

    def all(self, name: str) -> Sequence[str]:
        """Every one of that name."""
        return [value for key, value in self.fields if key == name]


async def sent_form(request: HttpRequest) -> Form:
    """The form.

    Raises:
        Refusal: 403, another site sent it; 415 or 400, it is none.
        ClientGoneError: the connection was closed in the middle of it.
    """
    refuse_from_elsewhere(request)
    body = await read_document(request, (FORM,))
    try:
        fields = parse_qsl(body.decode(), keep_blank_values=True, max_num_fields=_MOST_FIELDS)
    except ValueError:
        raise Refusal(BAD_REQUEST, "The form cannot be read.") from None
    return Form(fields=tuple(fields))


def refuse_from_elsewhere(request: HttpRequest) -> None:
    """Refuse what no page of this service sent, though a browser may have sent the key along.

    Browsers say where a form comes from (W3C Fetch Metadata); over plain HTTP to other machines
    they only name its origin (RFC 6454, 7).

    Raises:
        Refusal: 403.
    """
    site = request.headers.get("sec-fetch-site")
    if site is not None:
        own = site in ("same-origin", "none")
    else:
        origin = urlsplit(request.headers.get("origin", ""))
        own = bool(origin.netloc) and origin.netloc == request.headers.get("host")
    if not own:
        raise Refusal(FORBIDDEN, "The form was not sent by a page of this service.")


def as_body(members: dict[str, Any], kind: type[T]) -> T:
    """Fields as the body that the API would take, by the same rules.

    Raises:
        Refusal: 400, with every field that it would not take.
    """
    return BodyDecoder(kind, {}).decode(msgspec.json.encode(members))
