"""What history is asked by."""

from typing import Final
from urllib.parse import unquote

from msgspec import Struct

from wrung_service.api.bodies import HttpRequest
from wrung_service.api.operations import PathParameter, QueryParameter
from wrung_service.api.shelf.asking import id_of
from wrung_service.api.shelf.filters import moment_in, text_in, text_schema
from wrung_service.api.shelf.ids import BLOCK, SITE
from wrung_service.api.shelf.paging import NUMBERED, numbered_place_of
from wrung_service.store.entries import EntryFilter

_TIME: Final = {"type": "string", "format": "date-time", "maxLength": 40}


JOB: Final = PathParameter(
    name="job",
    description="The job, as its plans name it; send `/`, `?`, `#` and `%` as `%2F` and so on.",
    example="4711",
    schema=text_schema(128),
    allowed="a job must be text on one line, without control characters, of 128 at most",
)
HISTORY: Final = (
    QueryParameter(
        name="kind",
        description="Only of what is of this kind: `site`, `set`, `block`, `plan`, `batch`, "
        "`webhook` or `key`.",
        schema=text_schema(16),
        example="block",
    ),
    QueryParameter(
        name="subject",
        description="Only of what has this id.",
        schema=text_schema(128),
        example="bench-3/1.345",
    ),
    QueryParameter(
        name="job",
        description="Only what belongs to this job.",
        schema=text_schema(128),
        example="4711",
    ),
    QueryParameter(
        name="who", description="Only what they did.", schema=text_schema(128), example="anybody"
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
RECALL: Final = (
    QueryParameter(
        name="block",
        description="Id of the block; also of one that was removed since.",
        schema=BLOCK.schema or {},
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
        kind=text_in(request, "kind", 16),
        subject=text_in(request, "subject", 128),
        job=text_in(request, "job", 128),
        who=text_in(request, "who", 128),
        since=moment_in(request, "since"),
        until=moment_in(request, "until"),
    )
    return HistoryPage(wanted=wanted, after=int(place.after or 0), limit=place.limit)


def job_of(request: HttpRequest) -> str:
    """The job in the address.

    Raises:
        Refusal: 404, there can be none of that name.
    """
    job = id_of(request, JOB)
    # The router takes double slashes for one, and leaves the last out; in a job they count.
    sent = request.scope["raw_path"].partition(b"?")[0]
    before = f"/sites/{request.path_params[SITE.name]}/jobs/"
    return unquote(sent).partition(before)[2] or job
