"""The body of ``POST /v1/stack-checks`` as it stands on the wire."""

from typing import Annotated

from msgspec import UNSET, Meta, Struct, UnsetType

from wrung.lengths import Unit
from wrung_service.api.metrology.budgets import BudgetDetail
from wrung_service.api.metrology.conditions import UseConditions
from wrung_service.api.metrology.tolerances import PartLimits
from wrung_service.api.stacks.request import BlockOnShelf, SetOnShelf
from wrung_service.api.texts import BlockId, Name
from wrung_service.api.wire_lengths import Length, OptionalLength

_MOST_INSTRUMENTS = 10


class CheckingInstrument(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A caliper or micrometer that is put over the stack to see that the right blocks are in it."""

    name: Annotated[Name, Meta(description="What it is called.", examples=["caliper"])]
    resolution: Annotated[
        Length, Meta(description="Smallest step of its reading.", examples=["0.01"])
    ]
    permissible_error: (
        Annotated[
            OptionalLength,
            Meta(description="How far its reading may be off; by its standard or certificate."),
        ]
        | UnsetType
    ) = UNSET


class StackCheckRequest(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A stack that was put together by hand, and the shelf that it was taken from.

    Lengths and units are as in `POST /v1/stacks`.
    """

    unit: Annotated[Unit, Meta(description="Unit of every length that states no other.")]
    blocks: Annotated[tuple[BlockOnShelf, ...], Meta(description="Blocks one by one.")] = ()
    sets: Annotated[tuple[SetOnShelf, ...], Meta(description="Whole gauge sets.")] = ()
    stack: Annotated[
        tuple[BlockId, ...],
        Meta(min_length=1, max_length=100, description="Ids of its blocks, base first."),
    ]
    length: Annotated[Length, Meta(description="The length it should have.", examples=["0.3506"])]
    joint_allowance: (
        Annotated[
            OptionalLength,
            Meta(description="Error of one wrung joint, in the small unit; 1 µin if left out."),
        ]
        | UnsetType
    ) = UNSET
    conditions: (
        Annotated[UseConditions, Meta(description="Where, when and how it is used.")] | None
    ) = None
    budget: Annotated[
        BudgetDetail, Meta(description="How much of its uncertainty budget is shown.")
    ] = "table"
    part_limits: (
        Annotated[PartLimits, Meta(description="A part's tolerance it must be good enough for.")]
        | None
    ) = None
    instruments: Annotated[
        tuple[CheckingInstrument, ...],
        Meta(max_length=_MOST_INSTRUMENTS, description="What should read what on it."),
    ] = ()
    find_better_stacks: Annotated[
        bool, Meta(description="Whether a better stack is looked for on the same shelf.")
    ] = True
    language: Annotated[
        Name, Meta(description="Language of whatever is in words: `en` or `de`.", examples=["de"])
    ] = "en"
    time_limit_ms: (
        Annotated[
            int,
            Meta(ge=1, description="Time for the whole request, waiting for a worker included."),
        ]
        | None
    ) = None
