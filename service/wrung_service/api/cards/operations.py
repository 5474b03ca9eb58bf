"""What the OpenAPI document says of cards."""

from typing import Final, get_args

from wrung_service.api.bodies import HTML
from wrung_service.api.cards.typesetting import FORMATS, CardMedia
from wrung_service.api.operations import MediaBody, Operation, QueryParameter, example
from wrung_service.api.plans.operations import PLAN_ID
from wrung_service.api.problem_types import (
    INVALID_PARAMETER,
    NO_STORE,
    NOT_FOUND,
    SEARCH_PROBLEMS,
    STORE_PROBLEMS,
    STORE_UNAVAILABLE,
)
from wrung_service.api.stacks.request import StackRequest
from wrung_service.api.texts import PRINTABLE, published_pattern

PDF: Final = "application/pdf"
PNG: Final = "image/png"
MOST_PAGES: Final = 1000
MOST_JOB: Final = 40

# As generators of clients know bytes; there is no example that a document could hold.
_BINARY: Final = {"type": "string", "format": "binary"}
_MEDIA: Final = (
    MediaBody(
        media_type=PDF,
        name="CardsPdf",
        schema={**_BINARY, "description": "All pages, fonts included."},
    ),
    MediaBody(
        media_type=PNG,
        name="CardPng",
        schema={**_BINARY, "description": "One page, 200 dots an inch."},
    ),
    MediaBody(
        media_type=HTML,
        name="CardsPage",
        schema={**_BINARY, "description": "The same for a screen, with a print style."},
    ),
)
QUERY: Final = (
    QueryParameter(
        name="format",
        description="`a6` and `half-letter`: a card a page; `a4` and `letter`: four cards a page, "
        "to be cut; `sheet-a4` and `sheet-letter`: a set-up sheet with a line a stack; "
        "`record-a4` and `record-letter`: the records of targets of kind `check_points`, filled in "
        "as far as there are `readings`. "
        "`a6` if left out.",
        schema={"type": "string", "enum": [*FORMATS]},
        example="a6",
    ),
    QueryParameter(
        name="media",
        description="What they are made as, for links; else `Accept` says it, and `pdf` is usual.",
        schema={"type": "string", "enum": [*get_args(CardMedia)]},
        example="pdf",
    ),
    QueryParameter(
        name="job",
        description="What the cards are for; stands at their head.",
        schema={
            "type": "string",
            "maxLength": MOST_JOB,
            "pattern": published_pattern(PRINTABLE),
        },
        example="4471",
    ),
    QueryParameter(
        name="page",
        description="Which page, for `image/png`, from 1; 1 if left out.",
        schema={"type": "integer", "minimum": 1, "maximum": MOST_PAGES},
        example="1",
    ),
)
MAKE: Final = Operation(
    id="makeCards",
    tag="stacks",
    summary="Make cards for the bench",
    description=(
        "Finds the stacks as `POST /v1/stacks` does, and sets a card for each: its drawing with "
        "the sum to check on paper, the blocks to lay out, how to wring them, what is done with "
        "the stack, cautions, remarks, the error and uncertainty, the first 16 digits of the "
        "record's hash, and a place to sign. Instructions and uncertainties are worked out "
        "whether asked for or not. A PDF, with `Accept: image/png` one page as a picture, with "
        "`Accept: text/html` a page for a screen. A stack that has no room on one card has two or "
        "more. At most 250 stacks, or 1000 on a sheet; one of more than 7 blocks counts twice. "
        "With `WRUNG_PUBLIC_URL` a QR code leads to the page at `/` with this question, where a "
        "page can ask it and it fits version 6. Targets without a stack, and those of angle "
        "blocks, have no card but are named; ask `POST /v1/stacks` about them."
    ),
    body=StackRequest,
    body_examples={
        "traveller": example("Operations one after another", "stacks-traveller-request")
    },
    answer_media=_MEDIA,
    query=QUERY,
    problems=(*SEARCH_PROBLEMS, INVALID_PARAMETER, NOT_FOUND, NO_STORE, STORE_UNAVAILABLE),
)
OF_PLAN: Final = Operation(
    id="getPlanCards",
    tag="plans",
    summary="Get the cards of a plan for the bench",
    description="As `POST /v1/cards` makes them, from the plan's record. Without `job` the plan's "
    f"own stands at their head, up to {MOST_JOB} characters. With `WRUNG_PUBLIC_URL` a QR code and "
    "the margin have the address of the plan. The same record gives the same bytes.",
    answer_media=_MEDIA,
    parameters=(PLAN_ID,),
    query=QUERY,
    problems=tuple(dict.fromkeys((INVALID_PARAMETER, NOT_FOUND, *STORE_PROBLEMS))),
    answer_headers={"ETag": "Of these cards."},
)
