"""The question and the answer of checking a record, on the wire."""

from typing import Annotated, Final

from msgspec import Meta, Struct

from wrung_service.api.metrology.overdue import OverdueBlock
from wrung_service.api.records.shape import StackRecord

RECORD_TIMES: Final = 4
"""How much larger a record may be than a body: it holds a request, and for each block what is known
of it. Even for the largest request with a stack for each target it is about twice as large."""


class RecordCheckRequest(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A record that `POST /v1/stacks` gave, to be checked."""

    record: Annotated[StackRecord, Meta(description="As it was given.")]


class RecordFinding(Struct, frozen=True, kw_only=True):
    """Something that does not hold."""

    pointer: Annotated[str, Meta(description="Where in the record (RFC 6901).")]
    detail: Annotated[
        str,
        Meta(
            description="What, as a sentence: in the language that `Accept-Language` prefers, or "
            "else in that of the record's request."
        ),
    ]


class RecordCheckAnswer(Struct, frozen=True, kw_only=True):
    """Whether a record still holds: everything in it worked out again from its request."""

    holds: Annotated[bool, Meta(description="Whether there is no finding.")]
    hash_matches: Annotated[
        bool, Meta(description="Whether `request_sha256` is that of its `request`.")
    ]
    findings: Annotated[
        tuple[RecordFinding, ...], Meta(description="What differs; a hundred at most.")
    ]
    overdue_blocks: Annotated[
        tuple[OverdueBlock, ...],
        Meta(description="Blocks used that are overdue for calibration today; no finding."),
    ]
    version: Annotated[str, Meta(description="Version of the program that checked it.")]
