"""Lists in pages: ``limit``, ``cursor`` and the ``Link`` header (RFC 8288)."""

import re
from base64 import urlsafe_b64decode, urlsafe_b64encode
from collections.abc import Mapping
from datetime import datetime
from typing import Annotated, Final, Protocol, TypeAlias
from urllib.parse import quote, urlencode

import msgspec
from litestar import Response
from msgspec import Meta

from wrung_service.api.bodies import JSON, HttpRequest
from wrung_service.api.operations import QueryParameter
from wrung_service.api.problem_types import INVALID_PARAMETER
from wrung_service.api.problems import Refusal
from wrung_service.api.responses import ASK_EACH_TIME, ETAG_OF_ANSWER, respond_kept
from wrung_service.api.stacks.times import moment_of
from wrung_service.store.pages import Place

NextPage: TypeAlias = Annotated[
    str | None,
    Meta(description="The `cursor` of the next page; null on the last. `Link` has it, too."),
]
"""What every list ends with."""

_ENCODER: Final = msgspec.json.Encoder()
_MOST: Final = 500
_USUAL: Final = 100
_PRINTABLE: Final = re.compile(r"[^\x00-\x1f\x7f-\x9f\u2028\u2029]{1,128}")

PAGING: Final = (
    QueryParameter(
        name="limit",
        description=f"Most members of a page; {_USUAL} if left out.",
        schema={"type": "integer", "minimum": 1, "maximum": _MOST},
        example="50",
    ),
    QueryParameter(
        name="cursor",
        description="Where the page begins: `next` of the page before. Opaque: it is no id.",
        schema={
            "type": "string",
            "minLength": 1,
            "maxLength": 128,
            "pattern": r"^[^\x00-\x1f\x7f-\x9f\u2028\u2029]+$",
        },
        example="bench-3/1.005",
    ),
)
NUMBERED: Final = (
    PAGING[0],
    QueryParameter(
        name="cursor",
        description="Where the page begins: `next` of the page before.",
        schema={"type": "string", "maxLength": 15, "pattern": "^[0-9]+$"},
        example="1200",
    ),
)
"""Of lists in the order of time."""
TIMED_CURSOR: Final = QueryParameter(
    name="cursor",
    description="Where the page begins: `next` of the page before it.",
    schema={"type": "string", "minLength": 1, "maxLength": 400},
    example="MjAyNy0wMy0wMVQwODowMDowMCswMDowMHw0NzEx",
)
"""Of lists in the order of a time and, where that is the same, of ids."""
OF_PAGE: Final = {
    **ETAG_OF_ANSWER,
    "Link": 'The next page, `rel="next"`, where there is one (RFC 8288).',
}
"""Headers of every page."""


class AnyPage(Protocol):
    """A page of a list; ``next`` is the cursor of the page after it."""

    @property
    def next(self) -> str | None:
        """None where there is none."""
        ...


def place_of(request: HttpRequest) -> Place:
    """The page that is asked for.

    Raises:
        Refusal: 400, limit or cursor is malformed.
    """
    limit = request.query_params.get("limit", str(_USUAL))
    if not re.fullmatch(r"[0-9]{1,3}", limit) or not 1 <= int(limit) <= _MOST:
        raise Refusal(INVALID_PARAMETER, f"limit: {limit[:40]!r} is not from 1 to {_MOST}.")
    cursor = request.query_params.get("cursor")
    if cursor is not None and not _PRINTABLE.fullmatch(cursor):
        raise Refusal(INVALID_PARAMETER, "cursor: send `next` of the page before.")
    return Place(after=cursor, limit=int(limit))


def numbered_place_of(request: HttpRequest) -> Place:
    """The same, for lists in the order of time.

    Raises:
        Refusal: 400, limit or cursor is malformed.
    """
    place = place_of(request)
    if place.after is not None and not re.fullmatch(r"[0-9]{1,15}", place.after):
        raise Refusal(INVALID_PARAMETER, "cursor: send `next` of the page before.")
    return place


def timed_cursor(at: datetime, name: str) -> str:
    """The cursor of the page behind what has this time and id."""
    return urlsafe_b64encode(f"{at.isoformat()}|{name}".encode()).decode()


def timed_place_of(cursor: str | None) -> tuple[datetime, str] | None:
    """The time and id behind which the page of such a cursor begins.

    Raises:
        Refusal: 400, it is none.
    """
    if cursor is None:
        return None
    try:
        at, _, name = urlsafe_b64decode(cursor.encode()).decode().partition("|")
        if _PRINTABLE.fullmatch(name):
            return moment_of(at), name
    except ValueError:
        pass
    raise Refusal(INVALID_PARAMETER, "cursor: is none that this service gave.")


def respond_page(request: HttpRequest, page: AnyPage, prefix: str) -> Response[bytes]:
    """A 200 answer with its ETag and the address of the page after it; 304 if the client has it."""
    return respond_kept(
        request,
        _ENCODER.encode(page),
        media_type=JSON,
        keep=ASK_EACH_TIME,
        headers=_next_link(request, prefix, page.next),
    )


def _next_link(request: HttpRequest, prefix: str, cursor: str | None) -> Mapping[str, str]:
    """The ``Link`` header to the page after this one; nothing where there is none."""
    if cursor is None:
        return {}
    others = [(k, v) for k, v in request.query_params.multi_items() if k != "cursor"]
    query = urlencode([*others, ("cursor", cursor)])
    return {"Link": f'<{prefix}{quote(request.url.path)}?{query}>; rel="next"'}
