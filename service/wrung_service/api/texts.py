r"""Names on the wire: short, printable, and nothing that a log or a label could trip over.

The patterns end in ``\Z``, because Python's ``$`` also matches before a trailing newline; the
published schema says ``$``, which has no such exception in ECMA-262.
"""

import re
from collections.abc import Iterator, Mapping
from datetime import datetime
from typing import Annotated, Final, TypeAlias

from msgspec import Meta

# No control characters and no line or paragraph separators, whatever the script.
PRINTABLE: Final = r"\A[^\x00-\x1f\x7f-\x9f\u2028\u2029]+\Z"
"""Text on one line."""


# Not ``\d``, which also matches the digits of other scripts.
_TIME: Final = (
    r"\A[0-9]{4}-(0[1-9]|1[0-2])-(0[1-9]|[12][0-9]|3[01])"
    r"[Tt]([01][0-9]|2[0-3]):[0-5][0-9]:([0-5][0-9]|60)(\.[0-9]+)?"
    r"([Zz]|[+-]([01][0-9]|2[0-3]):[0-5][0-9])\Z"
)
_DAY: Final = r"\A[0-9]{4}-(0[1-9]|1[0-2])-(0[1-9]|[12][0-9]|3[01])\Z"
# A dot first would let clients take `..` for the folder above.
SITE_ID: Final = r"\A[A-Za-z0-9][A-Za-z0-9._~-]*\Z"
"""Of a site or a set, as it stands in addresses."""
_SEGMENT: Final = r"[A-Za-z0-9][A-Za-z0-9._~#+@:,=()-]*"
BLOCK_ID: Final = rf"\A{_SEGMENT}(/{_SEGMENT})*\Z"
WEB_ADDRESS: Final = r"\Ahttps?://[!-~]+\Z"
_DECIMAL: Final = r"\A-?[0-9]+(\.[0-9]+)?\Z"
_IN_WORDS: Final = {
    SITE_ID: "must be of letters A to Z, digits and . _ ~ -, and begin with a letter or digit",
    BLOCK_ID: "must be of letters A to Z, digits and . _ ~ # + @ : , = ( ) -, and begin with a "
    "letter or digit, as must each part behind a slash",
    PRINTABLE: "must be text on one line, not empty and without control characters",
    _TIME: "must be a time with its offset (RFC 3339), such as '2026-11-25T08:00:00Z'",
    WEB_ADDRESS: "must be an address that begins with https:// or http://, in ASCII, such as "
    "'https://erp.example/hooks/crib'",
    _DAY: "must be a day such as '2026-11-25', the year first",
    _DECIMAL: "must be decimal text such as '-0.25'",
}


def pattern_in_words(reason: str) -> str | None:
    """What text must look like, for a reason that quotes its pattern; None if it quotes none."""
    return next((words for pattern, words in _IN_WORDS.items() if pattern in reason), None)


def published_pattern(pattern: str) -> str:
    """The pattern as the published schema has it, in the dialect of ECMA-262."""
    return pattern.replace(r"\A", "^").replace(r"\Z", "$")


BlockId: TypeAlias = Annotated[str, Meta(pattern=PRINTABLE, max_length=128)]
Name: TypeAlias = Annotated[str, Meta(pattern=PRINTABLE, max_length=64)]
Time: TypeAlias = Annotated[
    str,
    Meta(
        pattern=_TIME,
        # The pattern leaves the number of decimals of a second open.
        max_length=40,
        extra_json_schema={"format": "date-time"},
    ),
]
Moment: TypeAlias = Annotated[datetime, Meta(extra_json_schema={"format": "date-time"})]
"""A time in an answer, with its offset from UTC."""
Day: TypeAlias = Annotated[
    str,
    Meta(
        pattern=_DAY,
        max_length=10,
        extra_json_schema={"format": "date"},
    ),
]
# Published, but matched by `unprintable`: a decoder would match as many as are sent, and only then
# see that they are too many.
_PUBLISHED: Final = {"pattern": PRINTABLE}
_LabelName: TypeAlias = Annotated[str, Meta(max_length=64, extra_json_schema=_PUBLISHED)]
_LabelText: TypeAlias = Annotated[str, Meta(max_length=200, extra_json_schema=_PUBLISHED)]
Labels: TypeAlias = Annotated[dict[_LabelName, _LabelText], Meta(max_length=10)]
"""What a client writes on something, to be given back and never read."""


def unprintable(labels: Mapping[str, str]) -> Iterator[tuple[str, str]]:
    """The names of labels that are not text on one line, name or value, and what is wrong."""
    for name, text in labels.items():
        if not all(re.match(PRINTABLE, each) for each in (name, text)):
            yield name, _IN_WORDS[PRINTABLE]


LABELS: Final = (
    "Whatever belongs to it in the sender's own system, such as `drawing`, `feature` or "
    "`operation`: ten at most. They are given back in records and never interpreted."
)

DecimalText: TypeAlias = Annotated[str, Meta(title="DecimalText", max_length=64, pattern=_DECIMAL)]
"""A decimal number in an answer."""

WaitedMs: TypeAlias = Annotated[
    float,
    Meta(
        ge=0,
        description="How long the request waited for a worker, ms; 0 if one was free. The time "
        "limit counts from the last byte of the request, so a search has that much less.",
    ),
]

CHECKED: Final = (
    "How far the figures were compared with a printed source: `yes`: all of them, with a "
    "handbook or standard; `partly`: some, or only with copies on the web; `no`: not yet (from "
    "memory)."
)

STEP_OF: Final = "The step block that it is a step of; left out for any other block."
ROLE: Final = (
    "The part that the stack plays in its target, where there are several: `go` and `not_go`, "
    "`lower` and `upper`, `low` and `high`, `base` and `top`, `left` and `right`, `large_ball` and "
    "`small_ball`, `lower_end`, `point_1` and so on, `step_0` and so on; null where the target has "
    "one stack. Further kinds of target may bring further ones."
)

Reason: TypeAlias = Annotated[str, Meta(pattern=PRINTABLE, max_length=1000)]
"""A sentence or two that somebody wrote, on one line."""
