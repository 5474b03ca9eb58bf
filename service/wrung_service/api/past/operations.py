"""What the OpenAPI document says of the past."""

from typing import Final

from wrung_service.api.operations import MediaBody, Operation, example, text_example
from wrung_service.api.past.answer import BlockRecall, History, JobHistory
from wrung_service.api.past.parameters import HISTORY, JOB, RECALL
from wrung_service.api.problem_types import INVALID_PARAMETER, NOT_FOUND, STORE_PROBLEMS
from wrung_service.api.records.table import CSV
from wrung_service.api.responses import ETAG_OF_ANSWER
from wrung_service.api.shelf.ids import SITE
from wrung_service.api.shelf.paging import OF_PAGE
from wrung_service.api.shelf.versions import IF_CHANGED

LIST_HISTORY: Final = Operation(
    id="listHistory",
    tag="crib",
    summary="List the history of a site",
    description="Who did what, when and why, the oldest first; several parameters must all hold. "
    "Nothing is ever changed or taken out: each entry has the hash of the one before it, and its "
    "own hash covers that and everything else in it. So whoever reads all entries can check them "
    "without the service: take `hash` away, write the rest in the canonical form of RFC 8785, "
    "and compare its SHA-256. `wrung verify-history` does it, too.",
    answer=History,
    answer_examples={"history": example("Of one block", "history")},
    parameters=(SITE,),
    query=HISTORY,
    headers=(IF_CHANGED,),
    answer_headers=OF_PAGE,
    problems=(NOT_FOUND, INVALID_PARAMETER, *STORE_PROBLEMS),
)
GET_JOB: Final = Operation(
    id="getJob",
    tag="crib",
    summary="Get a job as it was",
    description="All its plans with every record that they had, as it was made: the blocks with "
    "the certificates and figures of that time, whatever happened to them since; which blocks went "
    "out for it; and what history says of it. With `Accept: text/csv` the records as a table, one "
    "row a block.",
    answer=JobHistory,
    answer_examples={"job": example("A job that is done", "job")},
    answer_media=(
        MediaBody(
            media_type=CSV,
            name="JobCsv",
            schema={"type": "string", "description": "The records, one row a block."},
            examples={"job": text_example("A job as a table", "job.csv")},
        ),
    ),
    parameters=(SITE, JOB),
    headers=(IF_CHANGED,),
    answer_headers=ETAG_OF_ANSWER,
    problems=(NOT_FOUND, *STORE_PROBLEMS),
)
RECALL_BLOCK: Final = Operation(
    id="recallBlock",
    tag="crib",
    summary="List where a block was used since a day",
    description="For when a certificate turns out to be wrong: every stack of every job whose "
    "record has the block and whose use was over later than that day began, in the time zone of "
    "the site. Plans that were cancelled or expired are left out, unless the block went out for "
    "them. A plan that was planned anew counts with each record that it had while it was used: "
    "where blocks are issued, those that went out then; else those whose time had begun.",
    answer=BlockRecall,
    answer_examples={"recall": example("A job that is done, and one that is not", "recall")},
    parameters=(SITE,),
    query=RECALL,
    headers=(IF_CHANGED,),
    answer_headers=ETAG_OF_ANSWER,
    problems=(NOT_FOUND, INVALID_PARAMETER, *STORE_PROBLEMS),
)
