"""Reads a set: what is said of it, and the blocks that it comes with."""

from datetime import datetime
from typing import Final

from msgspec import Struct

from wrung import grades
from wrung.compositions import composition
from wrung.errors import InputError
from wrung.lengths import Unit
from wrung.materials import material
from wrung_service.api.faults import Faults, Path, pointer
from wrung_service.api.problems import refuse_if_any
from wrung_service.api.shelf.block_body import Shared, read_blocks
from wrung_service.api.shelf.set_shape import MOST_BLOCKS, NewSet, SetMembers
from wrung_service.api.stacks.request import BlockOnShelf, SetOnShelf
from wrung_service.api.stacks.shelf import read_shelf
from wrung_service.store.sets import StoredSet
from wrung_service.usecases.shelf.write_blocks import WantedBlock

_IN_SHELF: Final = "/sets/0"


class _OneSet(Struct, frozen=True, kw_only=True):
    """A body with one set, as the reader of shelves takes it."""

    unit: Unit = "mm"
    blocks: tuple[BlockOnShelf, ...] = ()
    sets: tuple[SetOnShelf, ...]


def read_new_set(
    name: str, body: NewSet, at: datetime
) -> tuple[StoredSet, tuple[WantedBlock, ...]]:
    """The set and its blocks, those of the composition first.

    Raises:
        Refusal: with everything that is wrong with it.
    """
    faults = Faults()
    stored = read_set(name, body, at, (), faults)
    refuse_if_any(faults)
    shared = Shared(unit=stored.unit, set=name)
    own = read_blocks(body.blocks, shared, ("blocks",), faults)
    _check_members(name, body, faults)
    delivered = _delivered(name, body, faults)
    refuse_if_any(faults)
    return stored, (*delivered, *own)


def read_set(name: str, body: SetMembers, made_at: datetime, at: Path, faults: Faults) -> StoredSet:
    """What is said of the set; ``at`` is its place in the body."""
    unit: Unit = body.unit or "mm"
    try:
        if body.composition is not None:
            unit = composition(body.composition).unit
        if body.material is not None:
            material(body.material)
        if body.grade is not None:
            grades.grade(body.grade, unit)
    except InputError as error:
        for fault in error.faults:
            faults.meaningless(pointer(at) + fault.pointer, fault.detail)
    if body.unit is not None and body.unit != unit:
        faults.meaningless(pointer((*at, "unit")), f"blocks of {body.composition} are in {unit}")
    return StoredSet(
        id=name,
        composition=body.composition,
        unit=unit,
        grade=body.grade,
        material=body.material,
        maker=body.maker,
        maker_number=body.maker_number,
        serial=body.serial,
        note=body.note,
        made_at=made_at,
    )


def _check_members(name: str, body: NewSet, faults: Faults) -> None:
    for index, block in enumerate(body.blocks):
        if block.set not in (None, name):
            faults.meaningless(f"/blocks/{index}/set", f"the set in the address is {name!r}")
    if body.composition is None:
        for member in ("missing", "wear_block_nominals", "calibration"):
            if getattr(body, member):
                faults.meaningless(f"/{member}", "is about the blocks of a composition")


def _delivered(name: str, body: NewSet, faults: Faults) -> tuple[WantedBlock, ...]:
    """The blocks of its composition, if it has one."""
    if body.composition is None:
        return ()
    wanted = SetOnShelf(
        id=name,
        composition=body.composition,
        grade=body.grade,
        limit_deviation=body.limit_deviation,
        material=body.material,
        missing=body.missing,
        wear_block_nominals=body.wear_block_nominals,
        calibration=body.calibration,
    )
    found = Faults()
    shelf = read_shelf(_OneSet(sets=(wanted,)), MOST_BLOCKS, found)
    for fault in found.found:
        at = fault.pointer.removeprefix(_IN_SHELF)
        if found.breaks_schema:
            faults.invalid(tuple(at.split("/")[1:]), fault.detail)
        else:
            faults.meaningless(at, fault.detail)
    return tuple(WantedBlock(block=block) for block in shelf.blocks)
