"""Writes bodies, and lets clients keep them as long as they hold (RFC 9110, 8.8.3 and 13.1.2)."""

from collections.abc import Mapping
from functools import lru_cache
from hashlib import sha256
from typing import Final

import msgspec
from litestar import Response
from msgspec import Struct

from wrung_service.api.bodies import JSON, HttpRequest

_ENCODER: Final = msgspec.json.Encoder()

FOR_AN_HOUR: Final = "public, max-age=3600"
"""What only a new version of the service changes."""
ASK_EACH_TIME: Final = "no-cache"
"""What its settings change, too, or what anybody does."""
ETAG_OF_ANSWER: Final = {"ETag": "Of this answer, to be sent as If-None-Match."}


def respond(body: Struct) -> Response[bytes]:
    """A 200 answer."""
    return Response(_ENCODER.encode(body), media_type=JSON)


def respond_table(
    request: HttpRequest, body: Struct, *, keep: str = FOR_AN_HOUR
) -> Response[bytes]:
    """A 200 answer to GET that the client may keep, or 304 if it has it."""
    return respond_kept(request, _ENCODER.encode(body), media_type=JSON, keep=keep)


def respond_kept(
    request: HttpRequest,
    content: bytes,
    *,
    media_type: str,
    keep: str = FOR_AN_HOUR,
    headers: Mapping[str, str] | None = None,
) -> Response[bytes]:
    """The same for content of any kind; ``keep`` is its ``Cache-Control``."""
    tag = _kept_tag(content) if keep == FOR_AN_HOUR else _tag(content)
    # Sent with 304 as with 200 (RFC 9110, 15.4.5); compression would add it to some answers only.
    own = {"ETag": tag, "Cache-Control": keep}
    all_headers = {"Vary": "Accept-Encoding", **(headers or {}), **own}
    if _is_named(tag, request.headers.get("if-none-match", "")):
        return Response(b"", status_code=304, media_type=media_type, headers=all_headers)
    return Response(content, media_type=media_type, headers=all_headers)


def respond_accepted(request: HttpRequest, content: bytes, media_type: str) -> Response[bytes]:
    """The same for what changes, and what there is in other media types, too."""
    vary = {"Vary": "Accept, Accept-Encoding"}
    return respond_kept(request, content, media_type=media_type, keep=ASK_EACH_TIME, headers=vary)


def _tag(content: bytes) -> str:
    # Weak, because with gzip the bytes on the wire are others.
    return f'W/"{sha256(content).hexdigest()[:32]}"'


# Of a table, which is the same each time; of what changes, it would only keep the bytes.
_kept_tag: Final = lru_cache(maxsize=256)(_tag)


def _is_named(tag: str, wanted: str) -> bool:
    opaque = tag.removeprefix("W/")
    return any(each.strip().removeprefix("W/") in (opaque, "*") for each in wanted.split(","))
