"""``POST /v1/coverage``: an inventory and a range of lengths in, what it covers out."""

from litestar import Response, post
from litestar.handlers import HTTPRouteHandler

from wrung_service.api.bodies import HttpRequest
from wrung_service.api.coverage.answer import CoverageAnswer
from wrung_service.api.coverage.request import CoverageRequest
from wrung_service.api.coverage.work import CoverageWork
from wrung_service.api.operations import OPERATION, Operation, example
from wrung_service.api.problem_types import NO_STORE, SEARCH_PROBLEMS, STORE_UNAVAILABLE
from wrung_service.api.working import answer_in_pool
from wrung_service.pool import SolvePool
from wrung_service.settings import Limits

_COVER = Operation(
    id="surveyCoverage",
    tag="stacks",
    summary="Find out which lengths can be built",
    description=(
        "For every length of an equally spaced range: whether the blocks on the shelf can "
        "build it, and with how few. Also the gaps, what would be lost without each block, and "
        "which one or two blocks to buy or borrow would close the most gaps. Each length is "
        "considered by itself, with all blocks free, and by nominal lengths only: errors do "
        "not count, and two lengths that can be built may need the same block. With `picture` "
        "the answer includes a drawing, an SVG document in a JSON string. There may be 2 000 "
        "000 lengths. They are worked out all at once in the largest step that all blocks are "
        "multiples of. If that step is too fine (more than 8 000 000 sums), the request is "
        "refused, with a pointer to the block responsible or to the range. Inch and metric "
        "blocks together share a step of 20 nm or less, so keep their range short, about 150 "
        "mm."
    ),
    body=CoverageRequest,
    body_examples={
        "depleted": example("An inch set with some blocks missing", "coverage-depleted-request"),
        "drawn": example("Four loose blocks, offers, and a drawing", "coverage-drawn-request"),
    },
    answer=CoverageAnswer,
    answer_examples={
        "depleted": example("Gaps, and what to borrow", "coverage-depleted-answer"),
        "drawn": example("Few lengths, all of them listed", "coverage-drawn-answer"),
    },
    problems=(*SEARCH_PROBLEMS, NO_STORE, STORE_UNAVAILABLE),
)


def coverage_routes(pool: SolvePool, limits: Limits, work: CoverageWork) -> list[HTTPRouteHandler]:
    """The one resource."""

    @post("/v1/coverage", status_code=200, opt={OPERATION: _COVER})
    async def survey_posted_coverage(request: HttpRequest) -> Response[bytes]:
        return await answer_in_pool(request, work, pool=pool, limits=limits)

    return [survey_posted_coverage]
