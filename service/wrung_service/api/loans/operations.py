"""What the document says of issues, returns, loans, conditions and plans at risk."""

from typing import Final

from wrung_service.api.loans.shapes import (
    BlockIssue,
    BlockReturn,
    ChangedBlocks,
    ConditionOfBlocks,
    IssuedBlocks,
    LoanList,
    RiskList,
)
from wrung_service.api.operations import AnswerLink, Operation, QueryParameter, example
from wrung_service.api.problem_types import (
    BLOCKS_TAKEN,
    BODY_PROBLEMS,
    CONFLICT,
    INVALID_PARAMETER,
    NOT_FOUND,
    STORE_PROBLEMS,
)
from wrung_service.api.responses import ETAG_OF_ANSWER
from wrung_service.api.shelf.filters import text_schema
from wrung_service.api.shelf.ids import SITE
from wrung_service.api.shelf.paging import NUMBERED, OF_PAGE
from wrung_service.api.shelf.versions import IF_CHANGED

_TRUTH: Final = {"type": "boolean"}
_OF_SITE: Final = {"site_id": "$request.path.site_id"}
_REPLAN: Final = {
    "replan": AnswerLink(
        operation="replanPlan",
        description="Plan anew what is at risk.",
        parameters={"plan_id": "$response.body#/at_risk/0/plan"},
    )
}
_PROBLEMS: Final = (NOT_FOUND, CONFLICT, *BODY_PROBLEMS, *STORE_PROBLEMS)

ISSUE: Final = Operation(
    id="issueBlocks",
    tag="crib",
    summary="Give blocks out",
    description="For a plan, or to somebody who has none; block by block, or a whole stack at "
    "once. Blocks that are not fit, that are out, or that are promised to others before they would "
    "be back do not go out: then none of the request does. "
    "A loan never takes a promised block away.",
    body=BlockIssue,
    body_examples={"scan": example("Two blocks were scanned", "issue-request")},
    answer=IssuedBlocks,
    answer_examples={"scan": example("They are out for a plan", "issue-answer")},
    parameters=(SITE,),
    scope="crib",
    links={
        "return": AnswerLink(
            operation="returnBlocks",
            description="Take one back.",
            parameters=_OF_SITE,
        )
    },
    problems=(BLOCKS_TAKEN, *_PROBLEMS),
)
RETURN: Final = Operation(
    id="returnBlocks",
    tag="crib",
    summary="Take blocks back",
    description="Each in the condition that it comes back in. `uses` and `minutes_out` of the "
    "blocks count on. A block that comes back damaged, or not at all, marks every plan that is "
    "promised it from now on: `at_risk` lists them, each with the address to plan it anew.",
    body=BlockReturn,
    body_examples={"damaged": example("One is fit, one is not", "return-request")},
    answer=ChangedBlocks,
    answer_examples={"damaged": example("A plan is at risk", "return-answer")},
    parameters=(SITE,),
    scope="crib",
    links=_REPLAN,
    problems=_PROBLEMS,
)
CONDITION: Final = Operation(
    id="changeConditions",
    tag="crib",
    summary="Say in which condition blocks are",
    description="With the reason; history keeps both, and the time. Plans that are promised a "
    "block which is no longer fit are at risk; once it is fit again, they are not.",
    body=ConditionOfBlocks,
    body_examples={"damaged": example("A block was dropped", "condition-request")},
    answer=ChangedBlocks,
    answer_examples={"damaged": example("A plan is at risk", "return-answer")},
    parameters=(SITE,),
    scope="crib",
    links=_REPLAN,
    problems=(NOT_FOUND, *BODY_PROBLEMS, *STORE_PROBLEMS),
)
LOANS: Final = Operation(
    id="listLoans",
    tag="crib",
    summary="List what went out",
    description="The oldest first; several parameters must all hold. `late=true` is the list of "
    "what should be back already.",
    answer=LoanList,
    answer_examples={"out": example("One block is out", "loans")},
    parameters=(SITE,),
    query=(
        QueryParameter(
            name="out",
            description="Only what is still out, or only what came back.",
            schema=_TRUTH,
            example="true",
        ),
        QueryParameter(
            name="late",
            description="`true`: only what is out and should be back already.",
            schema=_TRUTH,
            example="true",
        ),
        QueryParameter(
            name="block",
            description="Only loans of this block.",
            schema=text_schema(128),
            example="bench-3/1.005",
        ),
        QueryParameter(
            name="plan",
            description="Only loans for this plan.",
            schema=text_schema(128),
            example="op20-first",
        ),
        *NUMBERED,
    ),
    headers=(IF_CHANGED,),
    answer_headers=OF_PAGE,
    problems=(NOT_FOUND, INVALID_PARAMETER, *STORE_PROBLEMS),
)
RISKS: Final = Operation(
    id="listPlansAtRisk",
    tag="crib",
    summary="List the plans at risk",
    description="Every plan whose answer is no longer true of a block that it is promised, with "
    "the reason: it is not fit for use, its figures, set or last day of use changed, or a more "
    "urgent plan has it. Whatever was changed and is put right again puts nobody at risk.",
    answer=RiskList,
    answer_examples={"one": example("One plan", "plans-at-risk")},
    parameters=(SITE,),
    headers=(IF_CHANGED,),
    answer_headers=ETAG_OF_ANSWER,
    links=_REPLAN,
    problems=(NOT_FOUND, *STORE_PROBLEMS),
)
