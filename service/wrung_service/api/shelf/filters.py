"""What somebody at the crib looks for: parameters of the list of blocks."""

import re
from collections.abc import Mapping, Sequence
from datetime import UTC, date, datetime
from typing import Any, Final, get_args
from zoneinfo import ZoneInfo

import msgspec
from msgspec import Struct
from msgspec.structs import replace

from wrung.errors import LengthError
from wrung.lengths import Unit, parse
from wrung_service.api.bodies import HttpRequest
from wrung_service.api.operations import QueryParameter
from wrung_service.api.problem_types import INVALID_PARAMETER, UNPROCESSABLE_CONTENT
from wrung_service.api.problems import Refusal
from wrung_service.api.texts import Time
from wrung_service.store.blocks import BlockFilter, Condition

_TRUTH: Final = {"type": "boolean"}
_TRUTHS: Final = {"true": True, "false": False}
_LENGTH: Final = re.compile(r"([0-9]{1,6}(\.[0-9]{1,10})?|\.[0-9]{1,10})")
# NUL would break PostgreSQL.
_PRINTABLE: Final = re.compile(r"[^\x00-\x1f\x7f-\x9f\u2028\u2029]+")
_FIRST: Final = datetime.min.replace(tzinfo=UTC)
_LAST: Final = datetime.max.replace(tzinfo=UTC)
_DAY: Final = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")


def _named(values: tuple[Any, ...]) -> Mapping[str, Any]:
    return {"type": "string", "enum": list(values)}


def text_schema(most: int) -> Mapping[str, Any]:
    """The schema of such a text."""
    pattern = f"^{_PRINTABLE.pattern}$"
    return {"type": "string", "maxLength": most, "pattern": pattern}


FILTERS: Final = (
    QueryParameter(
        name="set",
        description="Only blocks of this set.",
        schema=text_schema(64),
        example="bench-3",
    ),
    QueryParameter(
        name="nominal",
        description="Only blocks of this nominal length, in `unit`.",
        schema={"type": "string", "maxLength": 17, "pattern": f"^{_LENGTH.pattern}$"},
        example="1.005",
    ),
    QueryParameter(
        name="unit",
        description="Unit of `nominal`; mm if left out.",
        schema=_named(get_args(Unit)),
        example="mm",
    ),
    QueryParameter(
        name="condition",
        description="Only blocks in this condition.",
        schema=_named(get_args(Condition)),
        example="fit",
    ),
    QueryParameter(
        name="due_before",
        description="Only blocks whose last day of use before calibration is before this day.",
        schema={"type": "string", "format": "date"},
        example="2027-06-01",
    ),
    QueryParameter(
        name="out",
        description="Only blocks that are out, or only those that are not.",
        schema=_TRUTH,
        example="true",
    ),
    QueryParameter(
        name="overdue",
        description="`true`: only blocks whose calibration has run out, by today's date at the "
        "site.",
        schema=_TRUTH,
        example="true",
    ),
    QueryParameter(
        name="late",
        description="`true`: only blocks that are out and should be back already.",
        schema=_TRUTH,
        example="true",
    ),
)


class AskedBlocks(Struct, frozen=True, kw_only=True):
    """Which blocks are asked for; what is overdue depends on the site's day."""

    wanted: BlockFilter
    overdue: bool
    late: bool

    def at(self, now: datetime, time_zone: str) -> BlockFilter:
        """The filter at a moment, at a site in that time zone."""
        wanted = replace(self.wanted, late_at=now) if self.late else self.wanted
        if not self.overdue:
            return wanted
        today = now.astimezone(ZoneInfo(time_zone)).date()
        given = wanted.due_before
        return replace(wanted, due_before=today if given is None else min(today, given))


def asked_blocks(request: HttpRequest) -> AskedBlocks:
    """Which blocks the parameters ask for.

    Raises:
        Refusal: 400, one of them is malformed; 422, the length is out of bounds.
    """
    wanted = BlockFilter(
        set=text_in(request, "set", 64),
        nominal=_nominal(request),
        condition=chosen_in(request, "condition", get_args(Condition)),
        due_before=day_in(request, "due_before"),
        out=truth_in(request, "out"),
    )
    return AskedBlocks(
        wanted=wanted,
        overdue=truth_in(request, "overdue") is True,
        late=truth_in(request, "late") is True,
    )


def text_in(request: HttpRequest, name: str, most: int) -> str | None:
    """A text among the parameters.

    Raises:
        Refusal: 400, it is empty, too long, or has control characters.
    """
    given = request.query_params.get(name)
    if given is not None and not (len(given) <= most and _PRINTABLE.fullmatch(given)):
        detail = f"{name}: {given[:40]!r} is not one line of at most {most} characters."
        raise Refusal(INVALID_PARAMETER, detail)
    return given


def truth_in(request: HttpRequest, name: str) -> bool | None:
    """Whether a parameter says true or false; None if it is left out.

    Raises:
        Refusal: 400, it says neither.
    """
    given = request.query_params.get(name)
    if given is not None and given not in _TRUTHS:
        raise Refusal(INVALID_PARAMETER, f"{name}: {given[:40]!r} is neither true nor false.")
    return None if given is None else _TRUTHS[given]


def day_in(request: HttpRequest, name: str) -> date | None:
    """A day among the parameters.

    Raises:
        Refusal: 400, it is none.
    """
    given = request.query_params.get(name)
    if given is None:
        return None
    try:
        # `fromisoformat` would take 20270331, too, which the schema does not.
        if _DAY.fullmatch(given):
            return date.fromisoformat(given)
    except ValueError:
        pass
    raise Refusal(INVALID_PARAMETER, f"{name}: {given[:40]!r} is not a day such as 2027-03-31.")


def chosen_in(request: HttpRequest, name: str, known: Sequence[str]) -> Any:  # noqa: ANN401 - one of these
    """Which of some values a parameter has; None if it is left out.

    Raises:
        Refusal: 400, it is none of them.
    """
    given = request.query_params.get(name)
    if given is not None and given not in known:
        detail = f"{name}: {given[:40]!r} is none of {', '.join(known)}."
        raise Refusal(INVALID_PARAMETER, detail)
    return given


def _nominal(request: HttpRequest) -> int | None:
    given = request.query_params.get("nominal")
    unit: Unit = chosen_in(request, "unit", get_args(Unit)) or "mm"
    if given is None:
        return None
    if not _LENGTH.fullmatch(given):
        raise Refusal(INVALID_PARAMETER, f"nominal: {given[:40]!r} is no length such as 1.005.")
    try:
        return parse(given, unit)
    except LengthError as error:
        raise Refusal(UNPROCESSABLE_CONTENT, f"nominal: {error}.") from None


def moment_in(request: HttpRequest, name: str) -> datetime | None:
    """A time with its offset among the parameters (RFC 3339), in UTC.

    Raises:
        Refusal: 400, it is none.
    """
    given = request.query_params.get(name)
    if given is None:
        return None
    try:
        # In a query a plus that was not escaped has become a space. A small t and z are allowed,
        # and Python knows no small z.
        sent = given.replace(" ", "+")
        moment = datetime.fromisoformat(msgspec.convert(sent, Time).upper())
    except ValueError:
        detail = f"{name}: {given[:40]!r} is no time with its offset, such as 2027-03-01T08:00:00Z."
        raise Refusal(INVALID_PARAMETER, detail) from None
    try:
        return moment.astimezone(UTC)
    except OverflowError:
        # Nothing is as far away as that, so the end of the calendar does as well.
        return _FIRST if moment.year == 1 else _LAST
