"""What ``wrung compare`` can be asked of: a composition, a shelf in a file, a set of a crib."""

from collections.abc import Sequence
from pathlib import Path
from typing import Final

from msgspec import Raw, Struct

from wrung.blocks import Block
from wrung.compositions import composition
from wrung.errors import Fault, InputError
from wrung.gauge_sets import GaugeSet
from wrung.lengths import Unit, parse, to_text
from wrung_service.api.decoding import BodyDecoder
from wrung_service.api.faults import Faults
from wrung_service.api.problems import refuse_if_any
from wrung_service.api.stacks.lengths import LengthReader
from wrung_service.api.stacks.request import BlockOnShelf
from wrung_service.api.stacks.shelf import read_block
from wrung_service.commands.looking_after import done
from wrung_service.commands.service import needing_service

_MOST_BYTES: Final = 50_000_000


class ComparedShelf(Struct, frozen=True, kw_only=True):
    """Blocks under a name; ``unit`` is that of lengths that are given for it."""

    name: str
    unit: Unit
    blocks: tuple[Block, ...]

    def without(self, missing: Sequence[str]) -> "ComparedShelf":
        """The same without a block of each of these lengths.

        Raises:
            InputError: at ``/missing``, there is none.
            LengthError: that is no length.
        """
        left = list(self.blocks)
        for text in missing:
            nominal = parse(text, self.unit)
            gone = next((block for block in reversed(left) if block.nominal == nominal), None)
            if gone is None:
                block = f"{to_text(nominal, self.unit)} {self.unit}"
                detail = f"{self.name} has no block of {block}"
                raise InputError([Fault(pointer="/missing", detail=detail)])
            left.remove(gone)
        return ComparedShelf(name=self.name, unit=self.unit, blocks=tuple(left))


class _BlockOfFile(BlockOnShelf, frozen=True, kw_only=True, forbid_unknown_fields=False):
    """A block of a request or of a crib; what else is known of it does not matter here."""

    condition: str = "fit"


class _SetOfFile(Struct, frozen=True, kw_only=True):
    id: str
    composition: str | None = None
    missing: tuple[Raw, ...] = ()


class _ShelfOfFile(Struct, frozen=True, kw_only=True):
    """A request for stacks or coverage, or what `wrung export` prints."""

    unit: Unit = "mm"
    blocks: tuple[_BlockOfFile, ...] = ()
    sets: tuple[_SetOfFile, ...] = ()


def shelf_of(name: str, crib: bytes | None) -> ComparedShelf:
    """What is called by a name: ``FILE``, ``FILE:SET``, a set of the crib, a composition.

    Args:
        name: the name.
        crib: the shelf of a site as `wrung export` prints it; None if no site was named.

    Raises:
        InputError, Refusal: there is no such thing, or it cannot be read.
    """
    path, _, within = name.partition(":")
    for file, wanted in ((Path(name), ""), (Path(path), within)):
        if file.is_file():
            return _in(_json(file), ":".join(filter(None, (file.name, wanted))), wanted)
    if crib is not None and (found := _in(crib, name, name)).blocks:
        return found
    try:
        known = composition(name)
    except InputError:
        if crib is None:
            raise
        detail = f"the site has no set {name!r} with blocks that are fit for use"
        raise InputError([Fault(pointer="/set", detail=detail)]) from None
    whole = GaugeSet(id=known.id, composition=known.id, limit_deviation=0)
    return ComparedShelf(name=known.id, unit=known.unit, blocks=tuple(whole.blocks()))


def _json(file: Path) -> bytes:
    data = file.read_bytes()
    if file.suffix.lower() != ".csv":
        return data
    shelf: bytes = done(needing_service("compare", "shelf_from_csv"), data)
    return shelf


def _in(data: bytes, name: str, wanted: str) -> ComparedShelf:
    """The gauge blocks of a shelf that are fit for use; those of a set, if one is wanted."""
    body = BodyDecoder(_ShelfOfFile, {}, _MOST_BYTES).decode(data)
    faults = Faults()
    reader = LengthReader(faults)
    single = [
        read_block(each, body.unit, ("blocks", place), reader, faults)
        for place, each in enumerate(body.blocks)
        if each.condition == "fit"
    ]
    # A set that is told by its blocks stands there for its name only.
    told = {each.set for each in body.blocks}
    delivered = [
        block
        for place, each in enumerate(body.sets)
        if each.composition and each.id not in told
        for block in _delivered(each, place, reader)
    ]
    refuse_if_any(faults)
    blocks = (each for each in (*single, *delivered) if each.role == "gauge")
    found = tuple(each for each in blocks if wanted in ("", each.set))
    return ComparedShelf(name=name, unit=found[0].unit if found else body.unit, blocks=found)


def _delivered(each: _SetOfFile, place: int, reader: LengthReader) -> tuple[Block, ...]:
    unit = composition(each.composition or "").unit
    missing = tuple(
        reader.required(text, unit, ("sets", place, "missing", index))
        for index, text in enumerate(each.missing)
    )
    whole = GaugeSet(
        id=each.id, composition=each.composition or "", limit_deviation=0, missing=missing
    )
    return tuple(whole.blocks())
