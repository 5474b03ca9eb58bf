"""``POST /v1/stacks``: blocks and targets in, a checked plan out."""

from functools import partial
from typing import Final

from litestar import Response, post
from litestar.handlers import HTTPRouteHandler

from wrung_service.api.batches.operations import DEFERRED, PREFER
from wrung_service.api.batches.posting import BatchDoor, prefers_later
from wrung_service.api.bodies import JSON, HttpRequest, preferred
from wrung_service.api.kinds.examples import kind_examples
from wrung_service.api.operations import OPERATION, MediaBody, Operation, example, text_example
from wrung_service.api.plans.parameters import IDEMPOTENCY_KEY, chosen_key
from wrung_service.api.problem_types import NO_STORE, SEARCH_PROBLEMS, STORE_UNAVAILABLE
from wrung_service.api.records.drawing import SVG, as_svg, drawing_body
from wrung_service.api.records.table import CSV, as_csv
from wrung_service.api.stacks.answer import StackAnswer
from wrung_service.api.stacks.request import StackRequest
from wrung_service.api.stacks.work import StackWork
from wrung_service.api.working import Form, answer_in_pool
from wrung_service.pool import SolvePool
from wrung_service.settings import Limits

_SOLVE = Operation(
    id="solveStacks",
    tag="stacks",
    summary="Find stacks for one or many targets",
    description=(
        "Finds, for each target, blocks on the shelf that wring together to its length, or to "
        "the lengths that its kind needs (limits, fits, angles, check points and so on, mixed "
        "freely; each has a page in `/guide/`). It serves as many targets as possible, then "
        "finds the best plan by the objective. No block is in two stacks that are needed at "
        "the same time. Every answer is recomputed by an independent checker before it is "
        "sent. A target that cannot be built is not an HTTP error; `unmet` says why. A search "
        "that finishes, as every proven one does, gives the same request the same plan, "
        "however busy the service is; one that runs out of time may find another plan next "
        "time. With `crib` the blocks are those that a site of this service has free at "
        "the time of need. Nothing is stored or promised, so a POST is safe to repeat, after 503 "
        "as well as after a lost connection. `alternatives` adds the next best stacks for a single "
        "target, and `trade_off` the plans that trade more blocks for smaller errors. "
        "`preferences` decide between plans that are equally good. `record` adds what is to be "
        "kept with the job; with `Accept: text/csv` the record is the answer, and with "
        "`Accept: image/svg+xml` a drawing of each stack as it stands, with the sum as it is "
        "checked on paper. "
        "The plan does not replace calibration, and it takes for granted the temperature and "
        "cleanliness that the certificates require."
    ),
    body=StackRequest,
    body_examples={
        "single": example("Two blocks, one of them certified", "stacks-single-request"),
        "set": example("A whole set for two operations", "stacks-set-request"),
        "short": example("Two stacks that want the same block", "stacks-short-request"),
        "traveller": example("Operations one after another", "stacks-traveller-request"),
        "preferences": example(
            "The best blocks spared, and wear spread", "stacks-preferences-request"
        ),
        "gauges": example("GO and NOT GO moved inward", "stacks-gauges-request"),
        "sure": example(
            "Certified blocks, a warm part, and the uncertainty", "stacks-sure-request"
        ),
        "ratio": example("Only stacks that are good enough for the part", "stacks-ratio-request"),
        "step": example("A step block, at two times of a day", "stacks-step-request"),
        "alternatives": example("The next best stacks, too", "stacks-alternatives-request"),
        "trade_off": example("Blocks against the largest error", "stacks-trade-off-request"),
        **kind_examples("request"),
    },
    answer=StackAnswer,
    answer_examples={
        "single": example("A proven stack", "stacks-single-answer"),
        "short": example("One of two targets, and what to add", "stacks-short-answer"),
        "traveller": example("Each with the whole shelf", "stacks-traveller-answer"),
        "preferences": example("Which of equal blocks", "stacks-preferences-answer"),
        "gauges": example("Gauges and stacks against the limits", "stacks-gauges-answer"),
        "sure": example(
            "With an uncertainty budget and an overdue block left out", "stacks-sure-answer"
        ),
        "ratio": example("How accurate the block to add must be", "stacks-ratio-answer"),
        "step": example("One step of a body at a time", "stacks-step-answer"),
        "alternatives": example("All there are, ranked", "stacks-alternatives-answer"),
        "trade_off": example("Three plans that no other plan beats", "stacks-trade-off-answer"),
        **kind_examples("answer"),
    },
    answer_media=(
        MediaBody(
            media_type=CSV,
            name="RecordCsv",
            schema={"type": "string", "description": "The record, one row a block."},
            examples={"record": text_example("A record as a table", "stacks-record.csv")},
        ),
        drawing_body("stacks-drawing"),
    ),
    headers=(PREFER, IDEMPOTENCY_KEY),
    deferred=DEFERRED,
    problems=(*SEARCH_PROBLEMS, NO_STORE, STORE_UNAVAILABLE),
)


_OF_RECORD: Final = {
    CSV: Form(media_type=CSV, encode=lambda a: as_csv(a.record)),
    SVG: Form(media_type=SVG, encode=lambda a: as_svg(a.record)),
}


def stack_routes(
    pool: SolvePool, limits: Limits, work: StackWork, batches: BatchDoor
) -> list[HTTPRouteHandler]:
    """The one resource."""

    # The framework's status for POST is 201, but nothing is created here.
    @post("/v1/stacks", status_code=200, opt={OPERATION: _SOLVE})
    async def solve_posted_stacks(request: HttpRequest) -> Response[bytes]:
        # Also where nothing is kept: what the document forbids is refused.
        chosen_key(request)
        form = _OF_RECORD.get(preferred(request, JSON, *_OF_RECORD))
        # What is kept is JSON, and a preference that cannot be met is ignored.
        if form is None and batches.open and prefers_later(request):
            return await batches.post_one(request)
        if form is None:
            return await answer_in_pool(request, work, pool=pool, limits=limits)
        recorded = partial(work, record=True)
        return await answer_in_pool(request, recorded, pool=pool, limits=limits, form=form)

    return [solve_posted_stacks]
