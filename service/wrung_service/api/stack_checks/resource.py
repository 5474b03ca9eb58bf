"""``POST /v1/stack-checks``: check a stack built by hand."""

from litestar import Response, post
from litestar.handlers import HTTPRouteHandler

from wrung_service.api.bodies import VARY_BY_LANGUAGE, HttpRequest, wanted_language
from wrung_service.api.operations import OPERATION, Operation, OtherBody, example
from wrung_service.api.problem_types import SEARCH_PROBLEMS
from wrung_service.api.records.answer import (
    RECORD_TIMES,
    RecordCheckAnswer,
    RecordCheckRequest,
)
from wrung_service.api.stack_checks.answer import StackCheckAnswer
from wrung_service.api.stack_checks.request import StackCheckRequest
from wrung_service.api.stack_checks.work import AnyCheckWork
from wrung_service.api.stacks.reading import Clock
from wrung_service.api.working import answer_in_pool
from wrung_service.pool import SolvePool, Turn
from wrung_service.settings import Limits
from wrung_service.usecases.refused import NoteRefusedClaims
from wrung_service.usecases.solve_stacks import Solve

_CHECK = Operation(
    id="checkStack",
    tag="stacks",
    summary="Check a stack built by hand",
    description=(
        "Adds up the blocks of a stack: nominal length, deviation, worst-case error and "
        "uncertainty budget. Reports blocks named twice, overdue blocks, and wear blocks that "
        "are not at an end; what a caliper or micrometer should read on the stack, so that a "
        "wrong block is noticed; whether the stack is good enough for a part's tolerance; and "
        "better stacks from the same shelf. A wrong stack is not an HTTP error: `passed` is "
        "false. With a `record` of `POST /v1/stacks` in place of a stack, everything in it is "
        "worked out again from the request that it holds: whether hash, blocks and figures still "
        f"agree. A record may be {RECORD_TIMES} times as large as other bodies. "
        "The check replaces neither calibration nor cleaning, wringing and soaking."
    ),
    body=StackCheckRequest,
    body_examples={
        "check": example("Five blocks, a caliper and a part", "stack-check-request"),
        "record": example("A record of a traveller", "record-check-request"),
    },
    answer=StackCheckAnswer,
    answer_examples={
        "check": example("Passed, with a better stack", "stack-check-answer"),
        "record": example("A record that holds", "record-check-answer"),
    },
    other=OtherBody(body=RecordCheckRequest, answer=RecordCheckAnswer),
    problems=SEARCH_PROBLEMS,
)


def stack_check_routes(
    pool: SolvePool, solve: Solve, limits: Limits, clock: Clock, note: NoteRefusedClaims
) -> list[HTTPRouteHandler]:
    """The one resource."""
    work = AnyCheckWork(solve, limits, clock, note)

    @post(
        "/v1/stack-checks",
        status_code=200,
        opt={OPERATION: _CHECK},
        request_max_body_size=RECORD_TIMES * limits.max_body_bytes,
    )
    async def check_posted_stack(request: HttpRequest) -> Response[bytes]:
        asked = wanted_language(request)

        def check(body: bytes, turn: Turn) -> StackCheckAnswer | RecordCheckAnswer:
            return work(body, turn, asked)

        answer = await answer_in_pool(request, check, pool=pool, limits=limits)
        answer.headers.update(VARY_BY_LANGUAGE)
        return answer

    return [check_posted_stack]
