"""Reads what is on the shelf: blocks one by one, and whole sets."""

import re
from collections.abc import Iterable, Iterator, Sequence
from functools import cached_property, lru_cache
from typing import Final, Protocol

import msgspec
from msgspec import Struct
from msgspec.structs import replace

from wrung.blocks import Block, Blocks
from wrung.calibrations import Calibration
from wrung.compositions import composition
from wrung.errors import InputError, LengthError
from wrung.gauge_sets import GaugeSet
from wrung.lengths import SMALL_UNIT, Unit, parse
from wrung.materials import material
from wrung.metrology import expand
from wrung.names import repeats
from wrung_service.api.faults import Faults, Path, pointer
from wrung_service.api.metrology.calibration import read_calibration
from wrung_service.api.stacks.lengths import LengthReader
from wrung_service.api.stacks.request import BlockOnShelf, SetOnShelf
from wrung_service.api.wire_lengths import OPTIONAL, SIGNED

_POINTER: Final = re.compile(r"/blocks/(?P<index>[0-9]+)(?P<member>.*)")
_MOST_KEPT: Final = 16
_LONGEST_KEPT: Final = 65_536
"""Bytes of a shelf that is kept once it was read, some 400 blocks; read, it takes more memory."""
# What a block has from its set under the same name, so that it can be pointed to there.
_MEMBERS_OF_SETS: Final = ("/grade", "/material", "/limit_deviation")


# Properties, because a Protocol's plain attributes could be set, and a frozen Struct's cannot.
class ShelfBody(Protocol):
    """A body that says what is on the shelf."""

    @property
    def unit(self) -> Unit:
        """Unit of lengths that state no other."""
        ...

    @property
    def blocks(self) -> tuple[BlockOnShelf, ...]:
        """Blocks one by one."""
        ...

    @property
    def sets(self) -> tuple[SetOnShelf, ...]:
        """Whole sets."""
        ...


class Shelf(Struct, frozen=True, kw_only=True):
    """Every block of a request.

    Attributes:
        blocks: those given one by one first, then those of the sets.
        origins: for each of them, the pointer to the member of the request that it came from.
        nominals: by id, the text of the nominal length as the client wrote it.
        serials: by id, the serial number of a block that has one.
        square: ids of the blocks of square section.
    """

    blocks: Blocks
    origins: tuple[str, ...]
    nominals: dict[str, str]
    serials: dict[str, str]
    square: frozenset[str]

    def as_sent(self, at: str) -> str:
        """A pointer of the library, into ``/blocks``, as a pointer into the body as sent."""
        found = _POINTER.fullmatch(at)
        if found is None:
            return at
        origin, member = self.origins[int(found["index"])], found["member"]
        if not origin.startswith(("/sets/", "/blocks/")):
            return origin
        if origin.startswith("/sets/") and member not in _MEMBERS_OF_SETS:
            return f"{origin}/id" if member == "/id" else origin
        return origin + member


class _Sent(Struct, frozen=True, kw_only=True):
    """What a body says of its shelf."""

    unit: Unit
    blocks: tuple[BlockOnShelf, ...]
    sets: tuple[SetOnShelf, ...]
    most_blocks: int


_ENCODER: Final = msgspec.json.Encoder()
_DECODER: Final = msgspec.json.Decoder(_Sent)


def read_shelf(body: ShelfBody, most_blocks: int, faults: Faults) -> Shelf:
    """The blocks of a request; what is wrong with them goes to ``faults``."""
    sent = _Sent(unit=body.unit, blocks=body.blocks, sets=body.sets, most_blocks=most_blocks)
    # A shop sends the same shelf with nearly every request, and reading it takes longer than
    # many a search.
    kept = _ENCODER.encode(sent)
    shelf = _without_fault(kept) if len(kept) <= _LONGEST_KEPT else None
    return shelf or _read(sent, faults)


@lru_cache(maxsize=_MOST_KEPT)
def _without_fault(sent: bytes) -> Shelf | None:
    """The shelf, if nothing is wrong with it."""
    faults = Faults()
    shelf = _read(_DECODER.decode(sent), faults)
    return None if faults.found else shelf


def _read(body: _Sent, faults: Faults) -> Shelf:
    reader = LengthReader(faults)
    single = [
        read_block(block, body.unit, ("blocks", i), reader, faults)
        for i, block in enumerate(body.blocks)
    ]
    _check_materials(body.blocks, faults)
    _check_set_ids(body.sets, faults)
    sets = [_set(each, i, reader, faults) for i, each in enumerate(body.sets)]
    room = body.most_blocks - len(single)
    from_sets = list(_blocks_of(sets, room, faults))
    blocks = Blocks((*single, *(block for _, block in from_sets)))
    return Shelf(
        blocks=blocks,
        origins=(
            *(f"/blocks/{index}" for index in range(len(single))),
            *(f"/sets/{index}" for index, _ in from_sets),
        ),
        # As written: whoever sent ``0.050`` looks for that in the answer.
        nominals={block.id: reader.text(block.nominal) for block in body.blocks},
        serials={block.id: block.serial for block in body.blocks if block.serial},
        square=_square(blocks),
    )


def shelf_of(blocks: Sequence[Block], origin: str) -> Shelf:
    """Blocks that stand in no request, but all come from one member of it."""
    return Shelf(
        blocks=Blocks(blocks),
        origins=(origin,) * len(blocks),
        nominals={},
        serials={block.id: block.serial for block in blocks if block.serial},
        square=_square(blocks),
    )


def _square(blocks: Iterable[Block]) -> frozenset[str]:
    return frozenset(block.id for block in blocks if block.section == "square")


def read_block(
    block: BlockOnShelf, unit: Unit, at: Path, reader: LengthReader, faults: Faults
) -> Block:
    """A block that stands at that place of a body; what is wrong with it goes to ``faults``."""
    unit = block.unit or unit
    small = SMALL_UNIT[unit]
    read = Block(
        id=block.id,
        nominal=reader.required(block.nominal, unit, (*at, "nominal")),
        deviation=reader.optional(block.deviation, small, (*at, "deviation"), SIGNED),
        expanded_uncertainty=reader.optional(
            block.expanded_uncertainty, small, (*at, "expanded_uncertainty"), OPTIONAL
        ),
        limit_deviation=reader.optional(
            block.limit_deviation, small, (*at, "limit_deviation"), OPTIONAL
        ),
        grade=block.grade,
        material=block.material,
        section=block.section,
        serial=block.serial,
        set=block.set,
        role=block.role,
        unit=unit,
        uses=block.uses or 0,
        body=block.body,
        calibration=read_calibration(block.calibration, unit, (*at, "calibration"), faults),
    )
    place = (*at, "standard_uncertainty")
    standard = reader.optional(block.standard_uncertainty, small, place, OPTIONAL)
    if standard is not None and read.expanded_uncertainty is not None:
        faults.meaningless(pointer(place), "stands beside expanded_uncertainty")
    return read if standard is None else _by_standard(read, standard)


def _by_standard(block: Block, standard: int) -> Block:
    calibration = block.calibration or Calibration()
    # The library plans with expanded uncertainties; the factor leads back to the standard one.
    expanded, factor = expand(standard, calibration.degrees_of_freedom)
    return replace(
        block,
        expanded_uncertainty=expanded,
        calibration=replace(calibration, coverage_factor=factor),
    )


def _check_materials(blocks: Sequence[BlockOnShelf], faults: Faults) -> None:
    """As the library does for sets."""
    for index, block in enumerate(blocks):
        try:
            if block.material is not None:
                material(block.material)
        except InputError as error:
            _note(faults, f"/blocks/{index}", error)


def _check_set_ids(sets: Sequence[SetOnShelf], faults: Faults) -> None:
    """Say it once for the set, not once for each of its blocks."""
    for index in repeats(each.id for each in sets):
        faults.meaningless(f"/sets/{index}/id", f"the id {sets[index].id!r} is used twice")


def _set(each: SetOnShelf, index: int, reader: LengthReader, faults: Faults) -> GaugeSet | None:
    """The set; None if its composition is not known."""
    at = ("sets", index)
    try:
        unit = composition(each.composition).unit
    except InputError as error:
        _note(faults, pointer(at), error)
        return None
    return GaugeSet(
        id=each.id,
        composition=each.composition,
        grade=each.grade,
        limit_deviation=reader.optional(
            each.limit_deviation, SMALL_UNIT[unit], (*at, "limit_deviation"), OPTIONAL
        ),
        material=each.material,
        missing=tuple(
            reader.required(raw, unit, (*at, "missing", i)) for i, raw in enumerate(each.missing)
        ),
        wear_block_nominals=tuple(
            reader.required(raw, unit, (*at, "wear_block_nominals", i))
            for i, raw in enumerate(each.wear_block_nominals)
        ),
        uses=each.uses,
        calibration=read_calibration(each.calibration, unit, (*at, "calibration"), faults),
    )


def _blocks_of(
    sets: Sequence[GaugeSet | None], room: int, faults: Faults
) -> Iterator[tuple[int, Block]]:
    """The sets' blocks, each with the index of its set.

    Their number is checked before they are made.
    """
    # A short request can name sets with a great many blocks.
    if sum(_count(each) for each in sets if each) > room:
        faults.meaningless("/sets", f"the sets have more than the {max(room, 0)} blocks left")
        return
    for index, each in enumerate(sets):
        if each is not None:
            yield from ((index, block) for block in _listed(each, index, faults))


def _count(each: GaugeSet) -> int:
    return composition(each.composition).count - len(each.missing) + len(each.wear_block_nominals)


def _listed(each: GaugeSet, index: int, faults: Faults) -> Iterable[Block]:
    try:
        return each.blocks()
    except InputError as error:
        _note(faults, f"/sets/{index}", error)
        return ()


def _note(faults: Faults, at: str, error: InputError) -> None:
    for fault in error.faults:
        faults.meaningless(at + fault.pointer, fault.detail)


class BlockNames:
    """Finds blocks of sets by any decimal text of their length, ``0.050`` for ``0.05``."""

    def __init__(self, shelf: Shelf) -> None:
        self._shelf = shelf

    # Made with the first name, as most requests name no block.
    @cached_property
    def _ids(self) -> frozenset[str]:
        return frozenset(block.id for block in self._shelf.blocks)

    @cached_property
    def _of_sets(self) -> list[Block]:
        pairs = zip(self._shelf.blocks, self._shelf.origins, strict=True)
        return [block for block, origin in pairs if origin.startswith("/sets/")]

    @cached_property
    def _by_length(self) -> dict[tuple[str | None, int, str], str]:
        return {_key(block): block.id for block in self._of_sets}

    @cached_property
    def _units(self) -> dict[str | None, Unit]:
        return {block.set: block.unit for block in self._of_sets}

    def resolve(self, name: str) -> str:
        """The id that the name means; the name itself if it means none."""
        # What is an id as it stands is never read as a length.
        if name in self._ids:
            return name
        of, _, label = name.rpartition("/")
        length, mark, number = label.partition("#")
        unit = self._units.get(of)
        if unit is None:
            return name
        try:
            return self._by_length.get((of, parse(length, unit), mark + number), name)
        except LengthError:
            return name


def _key(block: Block) -> tuple[str | None, int, str]:
    _, mark, number = block.id.rpartition("/")[2].partition("#")
    return block.set, block.nominal, mark + number
