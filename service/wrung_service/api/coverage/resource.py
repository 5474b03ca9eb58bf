"""``POST /v1/coverage``: an inventory and a range of lengths in, what it covers out."""

from litestar import Response, post
from litestar.handlers import HTTPRouteHandler

from wrung.errors import InputError
from wrung_service.api.bodies import HttpRequest
from wrung_service.api.coverage.answer import CoverageAnswer
from wrung_service.api.coverage.reading import published_coverage_limits, read_coverage_request
from wrung_service.api.coverage.request import CoverageRequest
from wrung_service.api.coverage.writing import write_coverage
from wrung_service.api.decoding import BodyDecoder
from wrung_service.api.operations import OPERATION, Operation, example
from wrung_service.api.problem_types import SEARCH_PROBLEMS
from wrung_service.api.problems import refuse_if_any
from wrung_service.api.stacks.reading import Clock
from wrung_service.api.working import answer_in_pool
from wrung_service.observe.lines import current_line
from wrung_service.pool import SolvePool, Turn
from wrung_service.settings import Limits
from wrung_service.usecases.survey_coverage import SurveyedCoverage, survey_coverage

_COVER = Operation(
    id="surveyCoverage",
    tag="stacks",
    summary="What an inventory covers",
    description=(
        "Tells, for every length of an equally spaced range, whether the blocks on the shelf can "
        "build it, and with how few; the gaps; what each block matters; and which one or two "
        "blocks to buy or borrow would restore most. Every length is looked at by itself, with all "
        "blocks free, by nominal lengths only: errors do not count, and nothing is said of stacks "
        "that stand side by side. With `picture` the answer holds a drawing of it, an SVG document "
        "in a JSON string. The lengths, at most 2 000 000, are worked out all at once on the step "
        "that all blocks share; where that is too fine (8 000 000 sums), the request is refused "
        "with a pointer to the block that makes it so, or to the range. Inch and metric blocks "
        "together have steps of 20 nm or less, so keep their range short, about 150 mm."
    ),
    body=CoverageRequest,
    body_examples={
        "depleted": example("An inch set that lacks some blocks", "coverage-depleted-request"),
        "drawn": example("Four loose blocks, offers, and a drawing", "coverage-drawn-request"),
    },
    answer=CoverageAnswer,
    answer_examples={
        "depleted": example("Gaps, and what to borrow", "coverage-depleted-answer"),
        "drawn": example("Few lengths, all of them listed", "coverage-drawn-answer"),
    },
    problems=SEARCH_PROBLEMS,
)


def coverage_routes(pool: SolvePool, limits: Limits, clock: Clock) -> list[HTTPRouteHandler]:
    """The one resource."""
    decoder = BodyDecoder(CoverageRequest, published_coverage_limits(limits))

    def work(body: bytes, turn: Turn) -> CoverageAnswer:
        reading = read_coverage_request(decoder.decode(body), limits, clock().date())
        current_line().blocks = len(reading.query.blocks)
        try:
            surveyed = survey_coverage(reading.query, turn=turn)
        except InputError as error:
            # Some faults show only in the survey, such as a step that is too fine.
            refuse_if_any(reading.faults(error))
            raise
        _note_answer(surveyed)
        return write_coverage(surveyed, reading, waited_ms=turn.waited_ms)

    @post("/v1/coverage", status_code=200, opt={OPERATION: _COVER})
    async def survey_posted_coverage(request: HttpRequest) -> Response[bytes]:
        return await answer_in_pool(request, work, pool=pool, limits=limits)

    return [survey_posted_coverage]


def _note_answer(surveyed: SurveyedCoverage) -> None:
    line = current_line()
    line.outcome = surveyed.coverage.outcome
    line.solve_ms = round(surveyed.coverage.solve_ms, 2)
