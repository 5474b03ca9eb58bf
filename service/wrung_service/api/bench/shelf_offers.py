"""What a page offers for the shelf in one tap: usual sets, and a pair of wear blocks."""

from collections.abc import Iterator, Mapping
from typing import Final

from msgspec import Struct
from msgspec.structs import replace

from wrung.compositions import composition
from wrung.errors import InputError
from wrung.lengths import Unit, parse
from wrung.markings import engraved
from wrung_service.api.bench.question import LOOSE, USUAL, ShelfSet
from wrung_service.api.bench.words import BenchWords

# Common practice, no source.
_WEAR: Final[Mapping[Unit, tuple[str, ...]]] = {"in": ("0.05", "0.1"), "mm": ("1", "2")}


class UsualSet(Struct, frozen=True, kw_only=True):
    """A set to start with: its name, the range of its blocks, and the shelf that it is."""

    name: str
    reach: str
    unit: Unit
    sets: tuple[ShelfSet, ...]


def usual_sets(words: BenchWords) -> Iterator[UsualSet]:
    """One set for each unit."""
    for unit, (id_, name, grade) in USUAL.items():
        known = composition(name)
        least, most = (
            engraved(f(known.nominals), unit, words.mark, known.marking) for f in (min, max)
        )
        yield UsualSet(
            name=words.set_name(known),
            reach=words.say("from_to", least=least, most=most, unit=unit),
            unit=unit,
            sets=(ShelfSet(id=id_, composition=name, grade=grade),),
        )


def wear_pairs(each: ShelfSet, mark: str) -> Mapping[str, str]:
    """Lengths of which two wear blocks are usual beside such a set, as they stand on the blocks.

    None for single blocks. ``mark`` is the decimal sign of the language.
    """
    try:
        known = composition(each.composition)
    except InputError:
        return {}
    lengths = () if known.role == "wear" else _WEAR[known.unit]
    return {
        text: engraved(parse(text, known.unit), known.unit, mark, known.marking) for text in lengths
    }


def with_wear(sets: tuple[ShelfSet, ...], each: ShelfSet, length: str) -> tuple[ShelfSet, ...]:
    """The shelf with two wear blocks of a length kept with one of its sets."""
    return tuple(replace(one, lengths=(length, length)) if one is each else one for one in sets)


def with_borrowed(sets: tuple[ShelfSet, ...], nominal: str, unit: Unit) -> tuple[ShelfSet, ...]:
    """The shelf with a borrowed block, of the grade of the first set, among single blocks."""
    kind = next(name for name, own in LOOSE.items() if own == unit)
    name = f"borrowed-{unit}"
    before = next((each for each in sets if each.id == name and each.composition == kind), None)
    if before is not None:
        more = replace(before, lengths=(*before.lengths, nominal))
        return tuple(more if each is before else each for each in sets)
    return (*sets, ShelfSet(id=name, composition=kind, grade=sets[0].grade, lengths=(nominal,)))
