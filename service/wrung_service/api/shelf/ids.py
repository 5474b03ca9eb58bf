r"""Ids that clients choose for what they keep, and that stand in addresses."""

from typing import Annotated, Final, TypeAlias

from msgspec import Meta

from wrung_service.api.operations import PathParameter
from wrung_service.api.texts import BLOCK_ID, SITE_ID, pattern_in_words, published_pattern

SiteId: TypeAlias = Annotated[str, Meta(pattern=SITE_ID, max_length=64)]
"""Of a site or a set."""
KeptBlockId: TypeAlias = Annotated[str, Meta(pattern=BLOCK_ID, max_length=128)]

PLAIN: Final = {"type": "string", "maxLength": 64, "pattern": published_pattern(SITE_ID)}
_SEGMENTS: Final = published_pattern(BLOCK_ID)
PLAIN_IN_WORDS: Final = f"an id {pattern_in_words(SITE_ID)}, and has 64 characters at most"
_SEGMENTS_IN_WORDS: Final = f"an id {pattern_in_words(BLOCK_ID)}, and has 128 characters at most"

SITE: Final = PathParameter(
    name="site_id",
    description="Id of the site: letters, digits and `. _ ~ -`.",
    example="north-hall",
    schema=PLAIN,
    allowed=PLAIN_IN_WORDS,
)
SET: Final = PathParameter(
    name="set_id",
    description="Id of the set: letters, digits and `. _ ~ -`.",
    example="bench-3",
    schema=PLAIN,
    allowed=PLAIN_IN_WORDS,
)
BLOCK: Final = PathParameter(
    name="block_id",
    description="Id of the block, such as `bench-3/1.005`. A slash in it may be sent as it is or "
    "as `%2F`; send `#` as `%23`.",
    example="bench-3/1.005",
    schema={"type": "string", "maxLength": 128, "pattern": _SEGMENTS},
    allowed=_SEGMENTS_IN_WORDS,
)
