"""A set as clients send it to the crib, and as it is answered."""

from typing import Annotated, Final

from msgspec import UNSET, Meta, Struct, UnsetType

from wrung.lengths import Unit
from wrung_service.api.metrology.calibration import BlockCalibration
from wrung_service.api.shelf.block_body import BlockMembers
from wrung_service.api.shelf.paging import NextPage
from wrung_service.api.texts import BlockId, Moment, Name, Reason
from wrung_service.api.wire_lengths import Length, OptionalLength
from wrung_service.store.sets import StoredSet

_MOST_OF_A_SET: Final = 200
MOST_BLOCKS: Final = 5000
"""Of one request; a body has fewer where the operator's limit of bytes is lower."""


class SetMembers(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What is said of a set as a whole."""

    composition: (
        Annotated[
            Name,
            Meta(
                description="What it was delivered as, see `GET /v1/compositions`; left out for a "
                "set that was put together freely."
            ),
        ]
        | None
    ) = None
    unit: (
        Annotated[
            Unit,
            Meta(
                description="Unit of lengths that state no other; that of the composition, "
                "else mm, if left out."
            ),
        ]
        | None
    ) = None
    grade: (
        Annotated[Name, Meta(description="Grade of its blocks, see `GET /v1/grades`.")] | None
    ) = None
    material: Annotated[Name, Meta(description="Material, see `GET /v1/materials`.")] | None = None
    maker: Annotated[BlockId, Meta(description="Who made it.")] | None = None
    maker_number: (
        Annotated[BlockId, Meta(description="The maker's number of the article.")] | None
    ) = None
    serial: Annotated[BlockId, Meta(description="Serial number of the set.")] | None = None
    note: Annotated[Reason, Meta(description="Whatever else there is to say.")] | None = None


class NewSet(SetMembers, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A set with the blocks that it comes with.

    The blocks of its composition get ids such as `bench-3/1.005`. Blocks that are in the crib
    already stay as they are.
    """

    missing: Annotated[
        tuple[Length, ...],
        Meta(
            max_length=_MOST_OF_A_SET,
            description="Nominal lengths of the composition's blocks that are not in the case.",
        ),
    ] = ()
    wear_block_nominals: Annotated[
        tuple[Length, ...],
        Meta(max_length=_MOST_OF_A_SET, description="Nominal lengths of wear blocks kept with it."),
    ] = ()
    limit_deviation: (
        Annotated[
            OptionalLength,
            Meta(description="Largest deviation to expect of the composition's blocks."),
        ]
        | UnsetType
    ) = UNSET
    calibration: (
        Annotated[
            BlockCalibration,
            Meta(description="When it was calibrated, for the composition's blocks."),
        ]
        | None
    ) = None
    blocks: Annotated[
        tuple[BlockMembers, ...],
        Meta(max_length=MOST_BLOCKS, description="Blocks one by one; they belong to this set."),
    ] = ()


class CribSet(Struct, frozen=True, kw_only=True):
    """A set; null for what is not known."""

    id: Annotated[str, Meta(description="Its id.")]
    composition: Annotated[str | None, Meta(description="What it was delivered as.")]
    unit: Annotated[Unit, Meta(description="Unit that its blocks are marked in.")]
    grade: Annotated[str | None, Meta(description="Grade of its blocks.")]
    material: Annotated[str | None, Meta(description="Material of its blocks.")]
    maker: Annotated[str | None, Meta(description="Who made it.")]
    maker_number: Annotated[str | None, Meta(description="The maker's number of the article.")]
    serial: Annotated[str | None, Meta(description="Serial number of the set.")]
    note: Annotated[str | None, Meta(description="Whatever else there is to say.")]
    made_at: Annotated[Moment, Meta(description="When it came into the crib.")]
    version: Annotated[int, Meta(description="Counts its changes; the ETag has it.")]


class SetList(Struct, frozen=True, kw_only=True):
    """A page of the sets of a site."""

    sets: Annotated[tuple[CribSet, ...], Meta(description="By id.")]
    next: NextPage


def write_set(kept: StoredSet) -> CribSet:
    """The set as it stands on the wire."""
    return CribSet(**{name: getattr(kept, name) for name in CribSet.__struct_fields__})
