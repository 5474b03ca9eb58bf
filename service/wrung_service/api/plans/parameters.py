"""What a list of plans is asked for by, and the key that a client may give a request."""

from hashlib import sha256
from typing import Final, get_args

from wrung_service.api.bodies import HttpRequest
from wrung_service.api.callers import Caller
from wrung_service.api.operations import HeaderParameter, QueryParameter
from wrung_service.api.problem_types import BAD_REQUEST, INVALID_PARAMETER
from wrung_service.api.problems import Refusal
from wrung_service.api.shelf.filters import chosen_in, moment_in, text_in, text_schema
from wrung_service.api.shelf.paging import TIMED_CURSOR, timed_place_of
from wrung_service.store.idempotency import DAYS_KEPT, Key
from wrung_service.store.plans import PlanFilter, PlanState

_DEFAULT: Final = 50
_MOST: Final = 200
_LONGEST_KEY: Final = 255
_LONGEST_SITE: Final = 64
_LONGEST_JOB: Final = 128
_TIME: Final = {"type": "string", "format": "date-time"}

LIST_PARAMETERS: Final = (
    QueryParameter(
        name="site",
        description="Id of the site.",
        schema=text_schema(_LONGEST_SITE),
        example="north-hall",
        required=True,
    ),
    QueryParameter(
        name="job",
        description="Only of this job.",
        schema=text_schema(_LONGEST_JOB),
        example="4711",
    ),
    QueryParameter(
        name="state",
        description="Only in this state.",
        schema={"type": "string", "enum": list(get_args(PlanState))},
        example="planned",
    ),
    QueryParameter(
        name="needed_after",
        description="Only those whose need ends after this time.",
        schema=_TIME,
        example="2027-03-01T06:00:00Z",
    ),
    QueryParameter(
        name="needed_before",
        description="Only those whose need begins before this time.",
        schema=_TIME,
        example="2027-03-01T14:00:00Z",
    ),
    QueryParameter(
        name="limit",
        description=f"How many a page has at most; {_DEFAULT} if left out.",
        schema={"type": "integer", "minimum": 1, "maximum": _MOST},
        example="50",
    ),
    TIMED_CURSOR,
)
IDEMPOTENCY_KEY: Final = HeaderParameter(
    name="Idempotency-Key",
    description="A key of your own for this request, such as a UUID: sent again with the same "
    f"request within {DAYS_KEPT} days, it gets the first answer again and nothing is made twice. "
    "The same is the same method, address and body, byte by byte: keep the text that was sent.",
    schema={"type": "string", "minLength": 1, "maxLength": _LONGEST_KEY, "pattern": "^[!-~]+$"},
    example="8e03978e-40d5-43dd-bc93-6894a57f9324",
)


def read_filter(request: HttpRequest) -> PlanFilter:
    """Which plans are asked for.

    Raises:
        Refusal: 400, a parameter makes no sense.
    """
    given = request.query_params
    if (site := text_in(request, "site", _LONGEST_SITE)) is None:
        raise Refusal(INVALID_PARAMETER, "site: say which site's plans.")
    return PlanFilter(
        site=site,
        job=text_in(request, "job", _LONGEST_JOB),
        state=chosen_in(request, "state", get_args(PlanState)),
        ending_after=moment_in(request, "needed_after"),
        starting_before=moment_in(request, "needed_before"),
        after=timed_place_of(given.get("cursor")),
        limit=_limit(given.get("limit")),
    )


def _limit(text: str | None) -> int:
    if text is None:
        return _DEFAULT
    if not (text.isascii() and text.isdigit() and 1 <= int(text[:6]) <= _MOST):
        raise Refusal(INVALID_PARAMETER, f"limit: must be a number from 1 to {_MOST}.")
    return int(text)


def chosen_key(request: HttpRequest) -> str | None:
    """What a client chose as the key of a request; None if it has none.

    Raises:
        Refusal: 400, it is no visible ASCII text of at most 255 characters.
    """
    key = request.headers.get("idempotency-key")
    if key is None or (0 < len(key) <= _LONGEST_KEY and all("!" <= each <= "~" for each in key)):
        return key
    detail = f"Idempotency-Key: must be 1 to {_LONGEST_KEY} visible ASCII characters."
    raise Refusal(BAD_REQUEST, detail)


def key_of(request: HttpRequest, caller: Caller, body: bytes) -> Key | None:
    """The key of a request; None if it has none.

    Raises:
        Refusal: 400, it is no visible ASCII text of at most 255 characters.
    """
    key = chosen_key(request)
    if key is None:
        return None
    address = request.url.path + (f"?{request.url.query}" if request.url.query else "")
    said = b"\n".join((request.method.encode(), address.encode(), body))
    return Key(caller=caller.name, key=key, fingerprint=sha256(said).hexdigest())
