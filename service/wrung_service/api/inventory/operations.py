"""What the document says of whole shelves, certificates for the crib, and what is due."""

from typing import Final

from wrung_service.api.inventory.due import DueList
from wrung_service.api.inventory.shapes import ImportReport, Inventory
from wrung_service.api.operations import (
    MediaBody,
    Operation,
    QueryParameter,
    example,
    text_example,
)
from wrung_service.api.problem_types import (
    BODY_PROBLEMS,
    CONFLICT,
    INVALID_CERTIFICATE,
    INVALID_PARAMETER,
    NOT_FOUND,
    PRECONDITION_FAILED,
    STORE_PROBLEMS,
)
from wrung_service.api.responses import ETAG_OF_ANSWER
from wrung_service.api.shelf.filters import text_schema
from wrung_service.api.shelf.ids import SITE
from wrung_service.api.shelf.versions import IF_CHANGED
from wrung_service.usecases.shelf.rows import COLUMNS

CSV: Final = "text/csv"
CALENDAR: Final = "text/calendar"
_CSV_SCHEMA: Final = {
    "type": "string",
    # As of every body: what an operator may allow at most.
    "maxLength": 16_777_216,
    "description": "The first line names the columns, in any order; one block a line.",
}
_SHELF: Final = MediaBody(
    media_type=CSV,
    name="InventoryCsv",
    schema=_CSV_SCHEMA,
    examples={"csv": text_example("Two blocks", "inventory.csv")},
)
PREVIEW: Final = QueryParameter(
    name="preview",
    description="`true`: only say what would change, and store nothing.",
    schema={"type": "boolean"},
    example="true",
)
_PROBLEMS: Final = (
    NOT_FOUND,
    CONFLICT,
    PRECONDITION_FAILED,
    INVALID_PARAMETER,
    *BODY_PROBLEMS,
    *STORE_PROBLEMS,
)

EXPORT: Final = Operation(
    id="exportInventory",
    tag="crib",
    summary="Get a whole shelf",
    description="All sets and blocks of the site, in the form in which they can be brought in "
    "again; with `Accept: text/csv` the blocks as CSV.",
    answer=Inventory,
    answer_examples={"shelf": example("A set of two blocks", "inventory")},
    answer_media=(_SHELF,),
    parameters=(SITE,),
    headers=(IF_CHANGED,),
    answer_headers=ETAG_OF_ANSWER,
    problems=(NOT_FOUND, *STORE_PROBLEMS),
)
IMPORT: Final = Operation(
    id="importInventory",
    tag="crib",
    summary="Bring sets and blocks in",
    description="All of them or none. Look at what would change first, with `preview=true`. JSON "
    "says everything that is to be known of a block, as in `PUT`. A CSV changes only the columns "
    f"that it has: `{'`, `'.join(COLUMNS)}`; an empty field says that something is not known, but "
    "leaves `condition`, `uses` and `minutes_out` as they are. Fields are separated by commas, "
    "semicolons or tabs; with the latter two, decimals may have a comma. Blocks that are not in "
    "the import stay as they are.",
    body=Inventory,
    body_examples={"shelf": example("A set of two blocks", "inventory")},
    media=(_SHELF,),
    answer=ImportReport,
    answer_examples={"preview": example("One is new, one differs", "inventory-report")},
    parameters=(SITE,),
    query=(PREVIEW,),
    scope="crib",
    problems=_PROBLEMS,
)
DUE: Final = Operation(
    id="listCalibrationDue",
    tag="crib",
    summary="List what is due for calibration",
    description="By due date, set and certificate; blocks that are retired or missing are not "
    "listed. With `calendar=true`, or `Accept: text/calendar`, it is a calendar (RFC 5545) with an "
    "event of the whole day for each, to subscribe to. Where an instance controls access, a "
    "calendar program may send an API key as the password of HTTP Basic, with any name.",
    answer=DueList,
    answer_examples={"due": example("A set is due", "calibration-due")},
    answer_media=(
        MediaBody(
            media_type=CALENDAR,
            name="CalibrationCalendar",
            schema={"type": "string", "description": "A calendar (RFC 5545)."},
            examples={"due": text_example("A set is due", "calibration-due.ics")},
        ),
    ),
    parameters=(SITE,),
    query=(
        QueryParameter(
            name="due_before",
            description="Only what is due before this day.",
            schema={"type": "string", "format": "date"},
            example="2027-06-01",
        ),
        QueryParameter(
            name="calendar",
            description="`true`: as a calendar.",
            schema={"type": "boolean"},
            example="true",
        ),
        QueryParameter(
            name="language",
            description="Language of the calendar: `en` or `de`; `en` if left out.",
            schema={"type": "string", "pattern": "^(en|de)$"},
            example="de",
        ),
    ),
    headers=(IF_CHANGED,),
    answer_headers=ETAG_OF_ANSWER,
    problems=(NOT_FOUND, INVALID_PARAMETER, *STORE_PROBLEMS),
    basic=True,
)


def certify_operation(media: tuple[MediaBody, ...], query: tuple[QueryParameter, ...]) -> Operation:
    """As `importCertificate` in what it reads, whose documents and parameters it is given."""
    return Operation(
        id="importCribCertificate",
        tag="crib",
        summary="Bring a certificate in",
        description="Reads a certificate as `POST /v1/certificate-imports` does, and gives the "
        "crib's blocks its deviations, uncertainties and dates: all of them or none. A block is "
        "found by its id, else by that id in `set`, else by serial number and length. The "
        "certificate takes the place of the one before as a whole, which stays in history: of a "
        "block for which it states no due date, none is known then (`due_on` gives one). Grade and "
        "material stay where it states none. Look at what would change first, with `preview=true`.",
        media=media,
        answer=ImportReport,
        answer_examples={"preview": example("One is new, one differs", "inventory-report")},
        parameters=(SITE,),
        query=(
            *query,
            QueryParameter(
                name="set",
                description="The set that the certificate is about.",
                schema=text_schema(64),
                example="bench-3",
            ),
            PREVIEW,
        ),
        scope="crib",
        problems=(*_PROBLEMS, INVALID_CERTIFICATE),
    )
