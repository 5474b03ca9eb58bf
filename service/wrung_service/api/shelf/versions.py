"""Versions in headers: ``ETag``, ``If-Match``, ``If-None-Match`` (RFC 9110, 8.8.3 and 13.1)."""

import re
from collections.abc import Mapping
from typing import Final

import msgspec
from litestar import Response
from msgspec import Struct

from wrung_service.api.bodies import JSON, HttpRequest
from wrung_service.api.operations import HeaderParameter
from wrung_service.usecases.shelf.acting import Precondition

_ENCODER: Final = msgspec.json.Encoder()
_STRONG: Final = re.compile(r'"(?P<version>[0-9]{1,15})"')
# What is no version matches nothing, and is no mistake (RFC 9110, 13.1).
_TEXT: Final = {"type": "string"}

IF_MATCH: Final = HeaderParameter(
    name="If-Match",
    description="The ETag of the version that is to be changed, or `*` for any. Needed to change "
    "what is there already.",
    schema=_TEXT,
    example='"3"',
)
IF_ABSENT: Final = HeaderParameter(
    name="If-None-Match",
    description="`*`: only if there is none yet.",
    schema=_TEXT,
    example="*",
)
IF_CHANGED: Final = HeaderParameter(
    name="If-None-Match",
    description="The ETag of the version that the client has; 304 if it is still that.",
    schema=_TEXT,
    example='"3"',
)
ETAG: Final = {"ETag": "The version, to be sent as If-Match or If-None-Match."}
MADE_AT: Final = {**ETAG, "Location": "With 201: where it is."}


def precondition_of(request: HttpRequest) -> Precondition:
    """What the headers say about the version that is to be changed."""
    match = request.headers.get("if-match")
    absent = request.headers.get("if-none-match", "").strip() == "*"
    if match is None:
        return Precondition(absent=absent)
    return Precondition(
        # Weak ones never match here (RFC 9110, 13.1.1), nor does anything that is no version.
        versions=frozenset(_versions(match, weak=False)),
        any_version=match.strip() == "*",
        absent=absent,
    )


def respond_version(
    request: HttpRequest, body: Struct, version: int, *, headers: Mapping[str, str] | None = None
) -> Response[bytes]:
    """A 200 answer to GET with its ETag, or 304 if the client has it."""
    sent = {"ETag": f'"{version}"', "Cache-Control": "no-cache", **(headers or {})}
    named = request.headers.get("if-none-match", "")
    if named.strip() == "*" or version in _versions(named, weak=True):
        return Response(b"", status_code=304, media_type=JSON, headers=sent)
    return Response(_ENCODER.encode(body), media_type=JSON, headers=sent)


def respond_kept(body: Struct, version: int, location: str, *, made: bool) -> Response[bytes]:
    """The answer to PUT: 201 with its address for something new, else 200."""
    headers = {"ETag": f'"{version}"'}
    if made:
        headers["Location"] = location
    status = 201 if made else 200
    return Response(_ENCODER.encode(body), status_code=status, media_type=JSON, headers=headers)


def _versions(header: str, *, weak: bool) -> list[int]:
    stripped = (each.strip() for each in header.split(","))
    tags = (each.removeprefix("W/") if weak else each for each in stripped)
    return [int(found["version"]) for tag in tags if (found := _STRONG.fullmatch(tag))]
