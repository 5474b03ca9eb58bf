"""A block as clients send it to the crib, and how it is read."""

from collections.abc import Sequence
from typing import Annotated, Final

from msgspec import Meta, Struct
from msgspec.structs import replace

from wrung import grades
from wrung.blocks import Block, margin
from wrung.errors import InputError
from wrung.lengths import Unit
from wrung.materials import material
from wrung.names import repeats
from wrung_service.api.faults import Faults, Path, pointer
from wrung_service.api.shelf.ids import KeptBlockId
from wrung_service.api.stacks.lengths import LengthReader
from wrung_service.api.stacks.request import BlockOnShelf
from wrung_service.api.stacks.shelf import read_block
from wrung_service.api.texts import BlockId, Reason
from wrung_service.store.blocks import Condition
from wrung_service.usecases.shelf.write_blocks import WantedBlock

_MOST: Final = 10_000_000
"""Of a counter: more than a block can see in its life."""


class BlockMembers(BlockOnShelf, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A block of the crib, with everything that is known of it.

    As in `POST /v1/stacks`, a certified block has `deviation` and its uncertainty; any other has
    `limit_deviation` or a `grade`.
    """

    id: Annotated[
        KeptBlockId,
        Meta(description="Its id, unique in the site; in an address it must be the same."),
    ]
    maker_number: (
        Annotated[BlockId, Meta(description="The maker's number of the article.")] | None
    ) = None
    condition: (
        Annotated[
            Condition,
            Meta(description="If left out it stays as it is; a new block is fit for use."),
        ]
        | None
    ) = None
    condition_reason: Annotated[Reason, Meta(description="Why it is in this condition.")] | None = (
        None
    )
    uses: (
        Annotated[
            int,
            Meta(ge=0, le=_MOST, description="How often it went out; if left out it stays."),
        ]
        | None
    ) = None
    minutes_out: (
        Annotated[
            int,
            Meta(ge=0, le=_MOST, description="Minutes that it was out in all; likewise."),
        ]
        | None
    ) = None


class Shared(Struct, frozen=True, kw_only=True):
    """What the blocks of a body have in common."""

    unit: Unit = "mm"
    set: str | None = None


def read_blocks(
    bodies: Sequence[BlockMembers], shared: Shared, at: Path, faults: Faults
) -> tuple[WantedBlock, ...]:
    """The blocks that stand one after another at a place of a body."""
    for index in repeats(body.id for body in bodies):
        detail = f"the id {bodies[index].id!r} is used twice"
        faults.meaningless(pointer((*at, index, "id")), detail)
    return tuple(read_one(body, shared, (*at, index), faults) for index, body in enumerate(bodies))


def read_one(body: BlockMembers, shared: Shared, at: Path, faults: Faults) -> WantedBlock:
    """The block at a place of a body; what is wrong with it goes to ``faults``."""
    known = len(faults.found)
    block = read_block(body, shared.unit, at, LengthReader(faults), faults)
    if shared.set is not None and body.set is None:
        block = replace(block, set=shared.set)
    # What was refused is read as something else, of which nothing should be said.
    if len(faults.found) == known:
        _check(block, at, faults)
    if body.condition is None and body.condition_reason is not None:
        faults.meaningless(pointer((*at, "condition_reason")), "stands without a condition")
    return WantedBlock(
        block=_trimmed(block),
        maker_number=_trim(body.maker_number),
        condition=body.condition,
        condition_reason=_trim(body.condition_reason),
        uses=body.uses,
        minutes_out=body.minutes_out,
    )


def _trimmed(block: Block) -> Block:
    """Without blanks around texts, which no table on paper or screen would show."""
    known = block.calibration
    if known is not None:
        known = replace(
            known, certificate=_trim(known.certificate), laboratory=_trim(known.laboratory)
        )
    # A counter is kept beside its block, as it may stay where the block is described anew.
    return replace(block, serial=_trim(block.serial), calibration=known, uses=0)


def _trim(text: str | None) -> str | None:
    return (text.strip() or None) if text is not None else None


def _check(block: Block, at: Path, faults: Faults) -> None:
    """What a search would refuse should not come into the crib."""
    try:
        if block.nominal <= 0:
            faults.meaningless(pointer((*at, "nominal")), "must be greater than zero")
            return
        if block.body is not None and block.role == "wear":
            detail = "a wear block is no step of a step block"
            faults.meaningless(pointer((*at, "body")), detail)
        if block.material is not None:
            material(block.material)
        if block.grade is not None:
            grades.grade(block.grade, block.unit)
        margin(block)
    except InputError as error:
        for fault in error.faults:
            faults.meaningless(pointer(at) + fault.pointer, fault.detail)
