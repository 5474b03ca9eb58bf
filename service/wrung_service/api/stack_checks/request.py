"""The body of ``POST /v1/stack-checks`` as it stands on the wire."""

from typing import Annotated

from msgspec import UNSET, Meta, Struct, UnsetType

from wrung.lengths import Unit
from wrung.measures import TemperatureUnit
from wrung_service.api.metrology.budgets import BudgetDetail
from wrung_service.api.metrology.conditions import UseConditions
from wrung_service.api.metrology.tolerances import PartLimits
from wrung_service.api.stacks.request import BlockOnShelf, SetOnShelf
from wrung_service.api.texts import BlockId, Name
from wrung_service.api.wire_lengths import Length, OptionalLength
from wrung_service.api.words import TEMPERATURE_UNIT

_MOST_INSTRUMENTS = 10


class CheckingInstrument(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A caliper or micrometer used to check that the right blocks are in the stack."""

    name: Annotated[Name, Meta(description="Its name.", examples=["caliper"])]
    resolution: Annotated[
        Length, Meta(description="Smallest step of its reading.", examples=["0.01"])
    ]
    permissible_error: (
        Annotated[
            OptionalLength,
            Meta(description="Largest error of its reading, by its standard or certificate."),
        ]
        | UnsetType
    ) = UNSET


class StackCheckRequest(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A stack built by hand, and the shelf that its blocks are from.

    Lengths and units are as in `POST /v1/stacks`.
    """

    unit: Annotated[Unit, Meta(description="Unit of every length that states no other.")]
    temperature_unit: Annotated[TemperatureUnit, Meta(description=TEMPERATURE_UNIT)] | None = None
    blocks: Annotated[tuple[BlockOnShelf, ...], Meta(description="Blocks one by one.")] = ()
    sets: Annotated[tuple[SetOnShelf, ...], Meta(description="Whole gauge sets.")] = ()
    stack: Annotated[
        tuple[BlockId, ...],
        Meta(
            min_length=1,
            max_length=100,
            description="Ids of its blocks, from one end to the other, or in wringing order.",
        ),
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
        BudgetDetail, Meta(description="How much of its uncertainty budget to show.")
    ] = "table"
    part_limits: (
        Annotated[PartLimits, Meta(description="A part's tolerance it must be good enough for.")]
        | None
    ) = None
    instruments: Annotated[
        tuple[CheckingInstrument, ...],
        Meta(max_length=_MOST_INSTRUMENTS, description="Instruments to check it with."),
    ] = ()
    find_better_stacks: Annotated[
        bool, Meta(description="Whether to look for better stacks on the same shelf.")
    ] = True
    language: Annotated[
        Name, Meta(description="Language of all texts: `en` or `de`.", examples=["de"])
    ] = "en"
    time_limit_ms: (
        Annotated[
            int,
            Meta(ge=1, description="Time for the whole request, including the wait for a worker."),
        ]
        | None
    ) = None
