"""The body of ``POST /v1/coverage`` as it stands on the wire."""

from typing import Annotated

from msgspec import Meta, Struct

from wrung.blocks import Role
from wrung.lengths import Unit
from wrung.targets import WearBlocks
from wrung_service.api.crib.request import CribOnRequest
from wrung_service.api.stacks.request import BlockOnShelf, SetOnShelf
from wrung_service.api.texts import BlockId, Day, Name
from wrung_service.api.wire_lengths import Length

_MOST_OFFERED = 1_000
_MOST_COMPOSITIONS = 20


class LengthRange(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Equally spaced lengths: `start`, `start` + `step`, and so on, none beyond `stop`."""

    start: Annotated[Length, Meta(description="First length.", examples=["0.1"])]
    stop: Annotated[Length, Meta(description="None is longer.", examples=["4"])]
    step: Annotated[
        Length,
        Meta(
            description="Distance from one length to the next; there may be 2 000 000 lengths.",
            examples=["0.0001"],
        ),
    ]


class OfferedBlock(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A block that could be bought or borrowed."""

    nominal: Annotated[Length, Meta(description="Nominal length.", examples=["0.1004"])]
    unit: Annotated[Unit, Meta(description="Unit of it, if not the request's.")] | None = None
    role: Annotated[Role, Meta(description="Gauge block or wear block.")] = "gauge"


class OfferedBlocks(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Blocks that could be bought or borrowed, 1000 at most; one listed twice counts twice."""

    blocks: Annotated[
        tuple[OfferedBlock, ...], Meta(max_length=_MOST_OFFERED, description="One by one.")
    ] = ()
    compositions: Annotated[
        tuple[Name, ...],
        Meta(
            max_length=_MOST_COMPOSITIONS,
            description="All blocks of these compositions, see `GET /v1/compositions`.",
        ),
    ] = ()


class CoverageRequest(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The blocks on the shelf, and the lengths that they should build.

    Lengths, units and what is on the shelf are as in `POST /v1/stacks`.
    """

    unit: Annotated[Unit, Meta(description="Unit of every length that states no other.")]
    blocks: Annotated[tuple[BlockOnShelf, ...], Meta(description="Blocks one by one.")] = ()
    sets: Annotated[tuple[SetOnShelf, ...], Meta(description="Whole gauge sets.")] = ()
    crib: (
        Annotated[
            CribOnRequest,
            Meta(
                description="In place of `blocks` and `sets`: what a site of this service has "
                "free at the time of need."
            ),
        ]
        | None
    ) = None
    range: Annotated[LengthRange, Meta(description="The lengths to consider.")]
    max_blocks: (
        Annotated[
            int,
            Meta(
                ge=1,
                le=1000,
                description="Maximum number of blocks in a stack, wear blocks included; 250 by "
                "default and at most.",
            ),
        ]
        | None
    ) = None
    wear_blocks: Annotated[
        WearBlocks, Meta(description="How many ends of each stack carry a wear block.")
    ] = "none"
    exclude: Annotated[tuple[BlockId, ...], Meta(description="Ids of blocks to leave out.")] = ()
    only: (
        Annotated[tuple[BlockId, ...], Meta(description="If given, no other blocks are used.")]
        | None
    ) = None
    offers: (
        Annotated[
            OfferedBlocks,
            Meta(
                description="Blocks that could be bought or borrowed. By default: what each "
                "set lacks of the composition closest to it, one more of each "
                "length on the shelf, and wear blocks where the stacks have some."
            ),
        ]
        | None
    ) = None
    used_on: (
        Annotated[
            Day,
            Meta(description="Day of use; blocks overdue on it are left out. Today by default."),
        ]
        | None
    ) = None
    allow_overdue: Annotated[
        bool,
        Meta(description="Whether to use blocks that are overdue for calibration on that day."),
    ] = False
    max_runs: Annotated[
        int, Meta(ge=0, le=10_000, description="Maximum number of runs to list.")
    ] = 200
    max_gaps: Annotated[
        int, Meta(ge=0, le=10_000, description="Maximum number of gaps to list.")
    ] = 50
    picture: Annotated[
        bool, Meta(description="Whether to include a drawing of the coverage, as SVG.")
    ] = False
    language: Annotated[
        Name, Meta(description="Language of the drawing: `en` or `de`.", examples=["de"])
    ] = "en"
    time_limit_ms: (
        Annotated[
            int,
            Meta(ge=1, description="Time for the whole request, including the wait for a worker."),
        ]
        | None
    ) = None
