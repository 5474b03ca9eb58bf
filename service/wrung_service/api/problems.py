"""Errors as RFC 9457 problem details, and the one way to refuse a request."""

from collections.abc import Mapping, Sequence
from typing import Annotated, Final

from msgspec import UNSET, Meta, Struct, UnsetType

from wrung.errors import Fault
from wrung_service.api.faults import Faults
from wrung_service.api.problem_types import INVALID_REQUEST, UNPROCESSABLE_CONTENT, ProblemType
from wrung_service.api.texts import Moment

PROBLEM_JSON: Final = "application/problem+json"


class FaultyMember(Struct, frozen=True, kw_only=True):
    """A member of the request that is at fault."""

    pointer: Annotated[str, Meta(description="JSON pointer (RFC 6901) into the request body.")]
    detail: Annotated[str, Meta(description="What is wrong with it.")]


class TakenBlock(Struct, frozen=True, kw_only=True):
    """A block that others have at the time of need."""

    block: Annotated[str, Meta(description="Its id.")]
    plan: Annotated[str | None, Meta(description="The plan that it is promised to, if it is.")]
    job: Annotated[
        str | None,
        Meta(description="The job of that plan; for a loan without one who has it, if known."),
    ]
    operation: Annotated[str | None, Meta(description="The operation of that plan, if it has one.")]
    starts_at: Annotated[Moment, Meta(description="From when it is taken.")]
    ends_at: Annotated[
        Moment | None,
        Meta(description="Until when; null if nobody knows, as for an overdue loan."),
    ]


class Problem(Struct, frozen=True, kw_only=True):
    """Problem details (RFC 9457)."""

    type: Annotated[
        str,
        Meta(
            description="Address of the kind of problem, see `GET /problems`.",
            extra_json_schema={"format": "uri-reference"},
        ),
    ]
    title: Annotated[
        str,
        Meta(
            description="What kind of problem this is; in German where `Accept-Language` prefers "
            "it to English, as `detail` and `errors` are."
        ),
    ]
    status: Annotated[int, Meta(ge=400, le=599, description="HTTP status.")]
    detail: Annotated[str, Meta(description="What went wrong this time.")]
    instance: Annotated[
        str,
        Meta(
            description="Path of the request.",
            extra_json_schema={"format": "uri-reference"},
        ),
    ]
    request_id: Annotated[str, Meta(description="The `X-Request-ID` of that request.")]
    errors: Annotated[
        tuple[FaultyMember, ...],
        Meta(
            description="The members at fault, the first 20 of them; empty if the problem is "
            "not in a member."
        ),
    ]
    taken: (
        Annotated[
            tuple[TakenBlock, ...],
            Meta(description="With `blocks-taken`: what is taken at that time, and by whom."),
        ]
        | UnsetType
    ) = UNSET


class Refusal(Exception):  # noqa: N818 - what it is; an error would be ours
    """Ends the handling of a request with a problem.

    ``german`` is the detail in German where it quotes the words of an answer.
    """

    def __init__(  # noqa: PLR0913 - all that a problem can say
        self,
        kind: ProblemType,
        detail: str,
        *,
        german: str | None = None,
        errors: Sequence[Fault] = (),
        headers: Mapping[str, str] | None = None,
        taken: Sequence[TakenBlock] = (),
    ) -> None:
        super().__init__(detail)
        self.kind = kind
        self.detail = detail
        self.german = german
        self.errors = tuple(errors)
        self.headers = dict(headers or {})
        self.taken = tuple(taken)


def as_problem(refusal: Refusal, *, prefix: str, instance: str, request_id: str) -> Problem:
    """The problem details of a refusal.

    Args:
        refusal: why a request is refused.
        prefix: the path that the service is shown under.
        instance: path of the request, without the prefix.
        request_id: its id.
    """
    return Problem(
        type=prefix + refusal.kind.uri,
        title=refusal.kind.title,
        status=refusal.kind.status,
        detail=refusal.detail,
        instance=prefix + instance,
        request_id=request_id,
        errors=tuple(FaultyMember(pointer=e.pointer, detail=e.detail) for e in refusal.errors),
        taken=refusal.taken or UNSET,
    )


def refuse_if_any(faults: Faults) -> None:
    """Refuse the request if anything is wrong with it.

    Raises:
        Refusal: 400 if some member breaks the published schema, 422 if none does.
    """
    if faults.found:
        # The shape counts first: what seems to make no sense may only follow from it.
        kind = INVALID_REQUEST if faults.breaks_schema else UNPROCESSABLE_CONTENT
        raise Refusal(kind, _count(faults.found), errors=faults.found)


def _count(errors: Sequence[Fault]) -> str:
    first = f"{errors[0].pointer or 'The body'}: {errors[0].detail}"
    more = len(errors) - 1
    return f"{first}{f' ({more} more, see errors)' if more else ''}."
