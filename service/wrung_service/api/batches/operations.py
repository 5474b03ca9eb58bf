"""What the OpenAPI document says of batches."""

from typing import Final, get_args

from wrung_service.api.batches.shapes import Batch, BatchList, BatchRequest, BatchResults
from wrung_service.api.operations import (
    AnswerLink,
    Deferred,
    HeaderParameter,
    MediaBody,
    Operation,
    PathParameter,
    QueryParameter,
    example,
    text_example,
)
from wrung_service.api.plans.parameters import IDEMPOTENCY_KEY
from wrung_service.api.problem_types import (
    BODY_TOO_LARGE,
    FORBIDDEN,
    INVALID_PARAMETER,
    INVALID_REQUEST,
    KEY_REUSED,
    MALFORMED_JSON,
    NOT_FOUND,
    STORE_PROBLEMS,
    UNSUPPORTED_MEDIA_TYPE,
)
from wrung_service.api.shelf.ids import PLAIN, PLAIN_IN_WORDS
from wrung_service.api.shelf.paging import OF_PAGE, PAGING, TIMED_CURSOR
from wrung_service.api.shelf.versions import IF_CHANGED
from wrung_service.store.batches.batches import BatchState

NDJSON: Final = "application/x-ndjson"
EVENTS: Final = "text/event-stream"
_TAG: Final = "batches"
_RETRY: Final = "While it goes on: ask again after this many seconds."
BATCH: Final = PathParameter(
    name="batch_id",
    description="Id of a batch.",
    example="7c9e6679f1b24a0e8d3b5c6a7f8e9d0c",
    schema=PLAIN,
    allowed=PLAIN_IN_WORDS,
)
PREFER: Final = HeaderParameter(
    name="Prefer",
    description="With `respond-async` (RFC 7240) the answer is 202 and the address of a batch with "
    "this one request, where the service has a store; otherwise it is answered at once. If it "
    "names a crib, the batch belongs to that site.",
    schema={"type": "string"},
    example="respond-async",
)
_OF_BATCH: Final = {"batch_id": "$response.body#/id"}
_LINKS: Final = {
    "get": AnswerLink(operation="getBatch", description="How far it is.", parameters=_OF_BATCH),
    "results": AnswerLink(
        operation="listBatchResults", description="Its results.", parameters=_OF_BATCH
    ),
    "events": AnswerLink(
        operation="watchBatch", description="How far it is, as it goes on.", parameters=_OF_BATCH
    ),
    "cancel": AnswerLink(operation="cancelBatch", description="Ends it.", parameters=_OF_BATCH),
}
_POSTED: Final = {"Location": "Address of the batch.", "Retry-After": _RETRY}
_EXAMPLES: Final = {"posted": example("It waits for a worker", "batch-posted")}
DEFERRED: Final = Deferred(
    answer=Batch,
    examples=_EXAMPLES,
    headers={**_POSTED, "Preference-Applied": "`respond-async`."},
)

POST: Final = Operation(
    id="postBatch",
    tag=_TAG,
    summary="Have many requests answered in the background",
    description=(
        "Takes requests as `POST /v1/stacks` does, as JSON or one a line (NDJSON; empty lines do "
        "not count), keeps them, and has workers answer each of them once. Each gets the answer "
        "that it would have got alone: where something is wrong with one, a problem stands in its "
        "place, in the language that `Accept-Language` prefers, and the others are answered all "
        "the same. Only where the body itself cannot be "
        "read, nothing is kept. Batches take turns, so a small one does not wait for the end of a "
        "large one. With `site` the batch belongs to a site: its requests may look into no other "
        "crib, whoever sees the site sees the batch, its history has it, and its webhooks tell "
        "when it ends. Repeat a request only with the same Idempotency-Key: without one there "
        "would be two batches."
    ),
    body=BatchRequest,
    body_examples={"two": example("Two requests", "batch-request")},
    media=(
        MediaBody(
            media_type=NDJSON,
            name="StackRequestLines",
            schema={
                "type": "string",
                # As of every body: what an operator may allow at most.
                "maxLength": 268_435_456,
                "description": "A StackRequest a line, in UTF-8.",
            },
            examples={"two": text_example("The same two requests", "batch-request.ndjson")},
        ),
    ),
    query=(
        QueryParameter(
            name="site",
            description="Id of the site that it belongs to.",
            schema=PLAIN,
            example="north-hall",
        ),
    ),
    answer=Batch,
    answer_examples=_EXAMPLES,
    status=202,
    headers=(IDEMPOTENCY_KEY,),
    answer_headers=_POSTED,
    links=_LINKS,
    problems=(
        *(MALFORMED_JSON, INVALID_REQUEST, INVALID_PARAMETER, NOT_FOUND, BODY_TOO_LARGE),
        *(UNSUPPORTED_MEDIA_TYPE, KEY_REUSED),
        *STORE_PROBLEMS,
    ),
)
GET: Final = Operation(
    id="getBatch",
    tag=_TAG,
    summary="Get how far a batch is",
    description="Ask again after `Retry-After`, or watch its events.",
    answer=Batch,
    answer_examples={"done": example("It is done", "batch-done")},
    parameters=(BATCH,),
    answer_headers={"Retry-After": _RETRY, "ETag": "Of this state."},
    links={name: link for name, link in _LINKS.items() if name != "get"},
    problems=(NOT_FOUND, *STORE_PROBLEMS),
)
LIST: Final = Operation(
    id="listBatches",
    tag=_TAG,
    summary="List batches",
    description="The newest first: your own, and those of every site that you see. `Link` has the "
    "address of the next page (RFC 8288).",
    answer=BatchList,
    answer_examples={"list": example("The only batch", "batches")},
    query=(
        QueryParameter(
            name="site",
            description="Only of this site.",
            schema=PLAIN,
            example="north-hall",
        ),
        QueryParameter(
            name="state",
            description="Only in this state.",
            schema={"type": "string", "enum": list(get_args(BatchState))},
            example="running",
        ),
        PAGING[0],
        TIMED_CURSOR,
    ),
    problems=(INVALID_PARAMETER, NOT_FOUND, *STORE_PROBLEMS),
    headers=(IF_CHANGED,),
    answer_headers=OF_PAGE,
)
RESULTS: Final = Operation(
    id="listBatchResults",
    tag=_TAG,
    summary="Get the results of a batch, in order",
    description=(
        "One BatchResult a line (NDJSON), in the order of the requests, as they come: the answer "
        "goes on until the batch has ended and the last line is sent. If the connection breaks, or "
        "the answer ends before the line of the last request, ask again with `after`, the position "
        "of the last line that you have. A batch that was cancelled or expired leaves out what has "
        "no answer. With `Accept: application/json` some of those that are there now, as a page."
    ),
    answer=BatchResults,
    answer_examples={"page": example("The answer to the second request", "batch-results")},
    answer_media=(
        MediaBody(
            media_type=NDJSON,
            name="BatchResultLines",
            schema={"type": "string", "description": "A BatchResult a line, in order."},
            examples={"lines": text_example("One of two lines", "batch-results.ndjson")},
        ),
    ),
    parameters=(BATCH,),
    query=(
        QueryParameter(
            name="after",
            description="Only results behind this position; all if left out, or -1.",
            schema={"type": "integer", "minimum": -1, "maximum": 1_000_000},
            example="41",
        ),
        QueryParameter(
            name="wait",
            description="`false`: only those that are there now; the answer does not wait.",
            schema={"type": "boolean"},
            example="false",
        ),
    ),
    problems=(NOT_FOUND, INVALID_PARAMETER, *STORE_PROBLEMS),
)
WATCH: Final = Operation(
    id="watchBatch",
    tag=_TAG,
    summary="Watch how far a batch is",
    description=(
        "Server-sent events: `progress` whenever answers came, at most five times a second, and "
        "`end` once it has ended; the data of each is the Batch, as JSON. After a break send "
        "`Last-Event-ID`, as browsers do by themselves: nothing is told twice, and the end is "
        "never missed. Once `end` was received, the answer is 204."
    ),
    answer_media=(
        MediaBody(
            media_type=EVENTS,
            name="BatchEvents",
            schema={"type": "string", "description": "Server-sent events."},
            examples={"events": text_example("It is done", "batch-events.txt")},
        ),
    ),
    parameters=(BATCH,),
    headers=(
        HeaderParameter(
            name="Last-Event-ID",
            description="Id of the last event that was received.",
            schema={"type": "string"},
            example="120",
        ),
    ),
    nothing_more="It has ended, and that was received.",
    problems=(NOT_FOUND, *STORE_PROBLEMS),
)
CANCEL: Final = Operation(
    id="cancelBatch",
    tag=_TAG,
    summary="Cancel a batch",
    description=(
        "It ends with the answers that it has, which stay to be read. What a worker is at is not "
        "answered any more. One that has ended stays as it is, so it may be cancelled twice. A "
        "batch of a site that somebody else posted can be cancelled with the scope `plan`, `crib` "
        "or `admin`."
    ),
    answer=Batch,
    answer_examples={"cancelled": example("It was cancelled", "batch-cancelled")},
    parameters=(BATCH,),
    problems=(NOT_FOUND, FORBIDDEN, *STORE_PROBLEMS),
)
