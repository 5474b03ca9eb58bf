"""The catalogue of problem types: ``GET /problems``, where every ``type`` leads."""

from typing import Annotated

from litestar import Response, get
from litestar.handlers import HTTPRouteHandler
from litestar.params import FromPath
from msgspec import Meta, Struct

from wrung_service.api.bodies import HttpRequest
from wrung_service.api.operations import OPERATION, Example, Operation, PathParameter
from wrung_service.api.problem_types import BUSY, CATALOGUE, NOT_FOUND, ProblemType
from wrung_service.api.problems import Refusal
from wrung_service.api.responses import ASK_EACH_TIME, respond_table


class ProblemKind(Struct, frozen=True, kw_only=True):
    """A kind of problem."""

    type: Annotated[str, Meta(description="The `type` of a problem of this kind.")]
    title: Annotated[str, Meta(description="Its `title`, the same for each occurrence.")]
    status: Annotated[int, Meta(description="The HTTP status it comes with.")]
    description: Annotated[str, Meta(description="When it occurs and what to do.")]


class ProblemKindList(Struct, frozen=True, kw_only=True):
    """Every kind of problem that the service can report."""

    problems: Annotated[tuple[ProblemKind, ...], Meta(description="By status.")]


def _kind(kind: ProblemType, prefix: str) -> ProblemKind:
    return ProblemKind(
        type=prefix + kind.uri, title=kind.title, status=kind.status, description=kind.description
    )


# From the catalogue, so that the example says what it says.
_BUSY_EXAMPLE = {
    "type": BUSY.uri,
    "title": BUSY.title,
    "status": BUSY.status,
    "description": BUSY.description,
}
_LIST = Operation(
    id="listProblems",
    tag="service",
    scope=None,
    summary="List the kinds of problem",
    description="Every kind of problem that the service can report.",
    answer=ProblemKindList,
    answer_examples={
        "list": Example(summary="One of the list", value={"problems": [_BUSY_EXAMPLE]})
    },
)
_ONE = Operation(
    id="getProblem",
    tag="service",
    scope=None,
    summary="Get a kind of problem",
    description="The address in the `type` of a problem leads here.",
    answer=ProblemKind,
    answer_examples={"busy": Example(summary="The queue is full", value=_BUSY_EXAMPLE)},
    parameters=(
        PathParameter(
            name="problem_name", description="Last part of the `type`.", example=BUSY.name
        ),
    ),
    problems=(NOT_FOUND,),
)


def problem_routes(prefix: str) -> list[HTTPRouteHandler]:
    """The list and each of its members; ``prefix`` is the path that the service is shown under."""
    kinds = {kind.name: _kind(kind, prefix) for kind in CATALOGUE}

    @get("/problems", opt={OPERATION: _LIST})
    async def list_problems(request: HttpRequest) -> Response[bytes]:
        listed = ProblemKindList(problems=tuple(kinds.values()))
        return respond_table(request, listed, keep=ASK_EACH_TIME)

    @get("/problems/{problem_name:str}", opt={OPERATION: _ONE})
    async def get_problem(request: HttpRequest, problem_name: FromPath[str]) -> Response[bytes]:
        if problem_name not in kinds:
            raise Refusal(NOT_FOUND, "There is no such kind of problem.")
        return respond_table(request, kinds[problem_name], keep=ASK_EACH_TIME)

    return [list_problems, get_problem]
