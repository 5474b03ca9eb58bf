"""What the OpenAPI document says of plans."""

from typing import Final

from wrung_service.api.operations import AnswerLink, Operation, PathParameter, example
from wrung_service.api.plans.answer import PlanDetails, PlanList, PlanPreview
from wrung_service.api.plans.parameters import IDEMPOTENCY_KEY, LIST_PARAMETERS
from wrung_service.api.plans.request import PlanAnew, PlanEnd, PlanRequest
from wrung_service.api.problem_types import (
    ANSWER_CHECK_FAILED,
    BLOCKS_TAKEN,
    BODY_TOO_LARGE,
    CONFLICT,
    INVALID_PARAMETER,
    INVALID_REQUEST,
    KEY_REUSED,
    MALFORMED_JSON,
    NOT_ALL_SERVED,
    NOT_DECIDED,
    NOT_FOUND,
    SEARCH_PROBLEMS,
    STORE_PROBLEMS,
    UNSUPPORTED_MEDIA_TYPE,
    ProblemType,
)
from wrung_service.api.records.drawing import drawing_body
from wrung_service.api.responses import ETAG_OF_ANSWER
from wrung_service.api.shelf.paging import OF_PAGE
from wrung_service.api.shelf.versions import IF_CHANGED

PLAN_ID: Final = PathParameter(
    name="plan_id", description="Id of a plan.", example="5b0c1c2b6d0f4f0f9e3a7d1c2b3a4f5e"
)
_BODY_PROBLEMS: Final = (
    MALFORMED_JSON,
    INVALID_REQUEST,
    BODY_TOO_LARGE,
    UNSUPPORTED_MEDIA_TYPE,
)
_NOT_KEPT: Final = (BLOCKS_TAKEN, NOT_ALL_SERVED, NOT_DECIDED)
_LINKS: Final = {
    "get": AnswerLink(
        operation="getPlan",
        description="The plan, as it is then.",
        parameters={"plan_id": "$response.body#/id"},
    ),
    "end": AnswerLink(
        operation="endPlan",
        description="Ends the plan, and frees its blocks.",
        parameters={"plan_id": "$response.body#/id"},
    ),
    "replan": AnswerLink(
        operation="replanPlan",
        description="Plans stacks anew whose blocks failed.",
        parameters={"plan_id": "$response.body#/id"},
    ),
}


def _all(*kinds: tuple[ProblemType, ...]) -> tuple[ProblemType, ...]:
    """Each of them once."""
    return tuple(dict.fromkeys(kind for each in kinds for kind in each))


MAKE: Final = Operation(
    id="makePlan",
    tag="plans",
    summary="Plan stacks and have their blocks promised",
    description=(
        "A request for stacks as in `POST /v1/stacks`, with a `crib`, a job and the time of need. "
        "It is solved with what is free then. Plan, request, answer, record and promises are kept "
        "together or not at all. No two plans have one block at overlapping times: the database "
        "refuses that. Where another plan was faster, this one is solved anew with what is left, a "
        "few times; then 409 says what is taken, and by whom. Each stack has its blocks for its "
        "own time; stacks in turn, which have none, share that of the crib, and may use a block "
        "one after another. A plan without a stack for every target is not kept, unless `partial` "
        "says so; one without any stack never is. With `displace` less urgent plans give way: one "
        "rather than several, and only plans of which nothing was issued; each is planned anew "
        "with the fewest changes. Repeat a request only with the same Idempotency-Key: without one "
        "there would be two plans."
    ),
    body=PlanRequest,
    body_examples={
        "plan": example("Two stacks for an operation", "plan-request"),
        "urgent": example("An urgent job, with the least of trouble", "plan-urgent-request"),
    },
    answer=PlanDetails,
    answer_examples={"plan": example("Three blocks for an hour and a half", "plan-answer")},
    problems=_all(SEARCH_PROBLEMS, STORE_PROBLEMS, (*_NOT_KEPT, CONFLICT, KEY_REUSED)),
    scope="plan",
    status=201,
    headers=(IDEMPOTENCY_KEY,),
    answer_headers={"Location": "Address of the plan."},
    links=_LINKS,
)
PREVIEW: Final = Operation(
    id="previewPlan",
    tag="plans",
    summary="Find out what a plan would be, and which plans would change",
    description=(
        "Takes what `POST /v1/plans` takes and keeps nothing. With `displace` it tells which less "
        "urgent plans would give way, and what each of them would have instead."
    ),
    body=PlanRequest,
    body_examples={
        "urgent": example("An urgent job, with the least of trouble", "plan-urgent-request")
    },
    answer=PlanPreview,
    answer_examples={"urgent": example("One plan would change", "plan-preview-answer")},
    problems=_all(SEARCH_PROBLEMS, STORE_PROBLEMS),
)
LIST: Final = Operation(
    id="listPlans",
    tag="plans",
    summary="List the plans of a site",
    description="By the start of their need. `Link` has the address of the next page (RFC 8288).",
    answer=PlanList,
    answer_examples={"list": example("The only plan", "plans")},
    query=LIST_PARAMETERS,
    problems=_all((INVALID_PARAMETER, NOT_FOUND), STORE_PROBLEMS),
    headers=(IF_CHANGED,),
    answer_headers=OF_PAGE,
)
ONE: Final = Operation(
    id="getPlan",
    tag="plans",
    summary="Get a plan with its stacks",
    description="With request, answer and record as they were kept.",
    answer=PlanDetails,
    answer_examples={"plan": example("Three blocks for an hour and a half", "plan-answer")},
    parameters=(PLAN_ID,),
    problems=_all((NOT_FOUND,), STORE_PROBLEMS),
    headers=(IF_CHANGED,),
    answer_headers=ETAG_OF_ANSWER,
)
DRAWING: Final = Operation(
    id="drawPlan",
    tag="plans",
    summary="Get the drawings of a plan's stacks",
    description="As `POST /v1/stacks` draws an answer; the blocks are those of the record. The "
    "address is for a page or a document to show.",
    answer_media=(drawing_body("stacks-drawing"),),
    parameters=(PLAN_ID,),
    problems=_all((NOT_FOUND,), STORE_PROBLEMS),
    headers=(IF_CHANGED,),
    answer_headers=ETAG_OF_ANSWER,
)
END: Final = Operation(
    id="endPlan",
    tag="plans",
    summary="End a plan and free its blocks",
    description="`done` when it was used, `cancelled` when it is not needed. Ending it in the same "
    "way once more changes nothing. A plan of which nothing is issued in its time expires by "
    "itself.",
    body=PlanEnd,
    body_examples={"done": example("It was used", "plan-end-request")},
    answer=PlanDetails,
    answer_examples={"done": example("Nothing is promised any more", "plan-end-answer")},
    parameters=(PLAN_ID,),
    scope="plan",
    problems=_all((NOT_FOUND, CONFLICT), _BODY_PROBLEMS, STORE_PROBLEMS),
)
REPLAN: Final = Operation(
    id="replanPlan",
    tag="plans",
    summary="Plan anew the stacks whose blocks failed",
    description=(
        "Only stacks with a block that is named, or that is no longer fit for use, free, in date "
        "or in the sets of the request, are planned anew, and those that the plan lost to a more "
        "urgent one. Each takes off and puts on as few blocks as can be; the others stay. "
        "`changes` says what changes; with `preview` nothing is kept. Conditions and figures of "
        "the new answer are those of today, and it claims no more than that its stacks are right. "
        "The plan is then no longer at risk."
    ),
    body=PlanAnew,
    body_examples={"damaged": example("A block was dropped", "plan-replan-request")},
    answer=PlanDetails,
    answer_examples={"damaged": example("Another block in its place", "plan-replan-answer")},
    parameters=(PLAN_ID,),
    scope="plan",
    problems=_all(
        (NOT_FOUND, CONFLICT, *_NOT_KEPT, ANSWER_CHECK_FAILED),
        SEARCH_PROBLEMS,
        STORE_PROBLEMS,
    ),
)
