r"""Ids that clients choose for what they keep, and that stand in addresses."""

from typing import Annotated, Final, TypeAlias

from msgspec import Meta

from wrung_service.api.operations import PathParameter

_SEGMENT: Final = r"[A-Za-z0-9][A-Za-z0-9._~#+@:,=()-]*"
# A dot first would let clients take `..` for the folder above.
_SITE: Final = r"\A[A-Za-z0-9][A-Za-z0-9._~-]*\Z"
_BLOCK: Final = rf"\A{_SEGMENT}(/{_SEGMENT})*\Z"

SiteId: TypeAlias = Annotated[str, Meta(pattern=_SITE, max_length=64)]
"""Of a site or a set."""
KeptBlockId: TypeAlias = Annotated[str, Meta(pattern=_BLOCK, max_length=128)]

_PLAIN: Final = {"type": "string", "maxLength": 64, "pattern": r"^[A-Za-z0-9][A-Za-z0-9._~-]*$"}
_SEGMENTS: Final = rf"^{_SEGMENT}(/{_SEGMENT})*$"

SITE: Final = PathParameter(
    name="site_id",
    description="Id of the site: letters, digits and `. _ ~ -`.",
    example="north-hall",
    schema=_PLAIN,
)
SET: Final = PathParameter(
    name="set_id",
    description="Id of the set: letters, digits and `. _ ~ -`.",
    example="bench-3",
    schema=_PLAIN,
)
BLOCK: Final = PathParameter(
    name="block_id",
    description="Id of the block, such as `bench-3/1.005`. A slash in it may be sent as it is or "
    "as `%2F`; send `#` as `%23`.",
    example="bench-3/1.005",
    schema={"type": "string", "maxLength": 128, "pattern": _SEGMENTS},
)
