"""What history is asked by."""

import re
from collections.abc import Mapping
from datetime import UTC, datetime
from typing import Any, Final
from urllib.parse import unquote

import msgspec
from msgspec import Struct

from wrung_service.api.bodies import HttpRequest
from wrung_service.api.operations import PathParameter, QueryParameter
from wrung_service.api.problem_types import INVALID_PARAMETER
from wrung_service.api.problems import Refusal
from wrung_service.api.shelf.asking import id_of
from wrung_service.api.shelf.ids import BLOCK, SITE
from wrung_service.api.shelf.paging import NUMBERED, numbered_place_of
from wrung_service.api.texts import Time
from wrung_service.store.entries import EntryFilter

_PRINTABLE: Final = r"^[^\x00-\x1f\x7f-\x9f\u2028\u2029]+$"
_TIME: Final = {"type": "string", "format": "date-time", "maxLength": 40}


def _text(most: int) -> Mapping[str, Any]:
    return {"type": "string", "minLength": 1, "maxLength": most, "pattern": _PRINTABLE}


JOB: Final = PathParameter(
    name="job",
    description="The job, as its plans name it; send `/`, `?`, `#` and `%` as `%2F` and so on.",
    example="4711",
    schema={"type": "string", "maxLength": 128, "pattern": _PRINTABLE},
)
HISTORY: Final = (
    QueryParameter(
        name="kind",
        description="Only of what is of this kind: `site`, `set`, `block`, `plan` and so on.",
        schema=_text(16),
        example="block",
    ),
    QueryParameter(
        name="subject",
        description="Only of what has this id.",
        schema=_text(128),
        example="bench-3/1.345",
    ),
    QueryParameter(
        name="job", description="Only what belongs to this job.", schema=_text(128), example="4711"
    ),
    QueryParameter(
        name="who", description="Only what they did.", schema=_text(128), example="anybody"
    ),
    QueryParameter(
        name="since",
        description="Only from this time on (RFC 3339).",
        schema=_TIME,
        example="2027-02-01T00:00:00+01:00",
    ),
    QueryParameter(
        name="until",
        description="Only before this time (RFC 3339).",
        schema=_TIME,
        example="2027-04-01T00:00:00+02:00",
    ),
    *NUMBERED,
)
_TEXTS: Final = {
    each.name: each.schema for each in HISTORY if "pattern" in each.schema and each.name != "cursor"
}
BLOCK_ID: Final[Mapping[str, Any]] = BLOCK.schema or {}
RECALL: Final = (
    QueryParameter(
        name="block",
        description="Id of the block; also of one that was removed since.",
        schema=BLOCK_ID,
        example="bench-3/1.345",
        required=True,
    ),
    QueryParameter(
        name="since",
        description="The first day that its certificate may have been wrong on, at the site.",
        schema={"type": "string", "format": "date"},
        example="2027-02-15",
        required=True,
    ),
)


class HistoryPage(Struct, frozen=True, kw_only=True):
    """Which entries are asked for: behind which number, and how many."""

    wanted: EntryFilter
    after: int
    limit: int


def history_page(request: HttpRequest) -> HistoryPage:
    """Which entries the parameters ask for.

    Raises:
        Refusal: 400, one of them is malformed.
    """
    place = numbered_place_of(request)
    wanted = EntryFilter(
        **{name: _text_in(request, name, schema) for name, schema in _TEXTS.items()},
        since=_moment(request, "since"),
        until=_moment(request, "until"),
    )
    return HistoryPage(wanted=wanted, after=int(place.after or 0), limit=place.limit)


def _moment(request: HttpRequest, name: str) -> datetime | None:
    given = request.query_params.get(name)
    if given is None:
        return None
    try:
        # A small t and z are allowed, and Python knows no small z.
        return datetime.fromisoformat(msgspec.convert(given, Time).upper()).astimezone(UTC)
    except (ValueError, OverflowError):
        detail = f"{name}: {given[:40]!r} is no time with its offset, such as 2027-03-01T08:00:00Z."
        raise Refusal(INVALID_PARAMETER, detail) from None


def job_of(request: HttpRequest) -> str:
    """The job in the address.

    Raises:
        Refusal: 404, there can be none of that name.
    """
    job = id_of(request, JOB)
    # The router takes double slashes for one, and leaves the last out; in a job they count.
    sent = bytes(request.scope.get("raw_path") or b"").partition(b"?")[0]
    before = f"/sites/{request.path_params[SITE.name]}/jobs/"
    return unquote(sent.decode("ascii")).partition(before)[2] or job


def needed_text(request: HttpRequest, name: str, schema: Mapping[str, Any]) -> str:
    """A parameter that must be there.

    Raises:
        Refusal: 400, it is not, or is malformed.
    """
    given = _text_in(request, name, schema)
    if given is None:
        raise Refusal(INVALID_PARAMETER, f"{name}: is missing.")
    return given


def _text_in(request: HttpRequest, name: str, schema: Mapping[str, Any]) -> str | None:
    given: str | None = request.query_params.get(name)
    if given is None:
        return None
    # `\\Z`, as `$` also matches before a trailing newline.
    pattern = str(schema["pattern"]).removesuffix("$") + r"\Z"
    if len(given) > int(schema["maxLength"]) or not re.match(pattern, given):
        raise Refusal(INVALID_PARAMETER, f"{name}: {given[:40]!r} is no such text.")
    return given
