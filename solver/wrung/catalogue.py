"""Blocks that could be added to the shelf: members of set compositions, missing ones first."""

from collections import defaultdict
from collections.abc import Collection, Iterator, Sequence
from functools import cache
from typing import Final

from wrung.answers import Wanted
from wrung.blocks import Block, Role
from wrung.compositions import Composition, all_compositions, compositions_with
from wrung.lengths import QUANTA, Unit, to_text

_UNITS: Final[tuple[Unit, ...]] = ("mm", "in")
_DECIMALS: Final = 12
"""The most decimals that a length may have."""


def addable(blocks: Sequence[Block]) -> tuple[Wanted, ...]:
    """What may be added to these blocks, in the order in which it is tried.

    First the members that the composition closest to each set has and the set lacks, then one more
    of each length on the shelf, then the usual wear blocks; ascending in length. Each is a member
    of some composition.
    """
    offers = [*_missing(blocks), *_on_the_shelf(blocks, "gauge"), *_wear(blocks)]
    # Each once, at its first place: this is the order in which they are tried.
    return tuple(
        each
        for each in dict.fromkeys(offers)
        if compositions_with(each.nominal, each.unit, each.role)
    )


def marked_in(nominal: int) -> Unit:
    """The unit that a length seems to be stated in: the one that gives the shorter text."""
    exact: tuple[Unit, ...] = tuple(
        unit for unit in _UNITS if nominal * 10**_DECIMALS % QUANTA[unit] == 0
    )
    return min(exact or _UNITS[:1], key=lambda unit: len(to_text(nominal, unit)))


def all_addable(blocks: Sequence[Block]) -> tuple[Wanted, ...]:
    """The same, and after them all other gauge blocks of compositions."""
    return tuple(dict.fromkeys((*addable(blocks), *_of_compositions(_units(blocks)))))


@cache
def _of_compositions(units: tuple[Unit, ...]) -> tuple[Wanted, ...]:
    """Every gauge block of any composition in these units."""
    found = {
        Wanted(nominal=nominal, unit=each.unit)
        for each in all_compositions()
        if each.role == "gauge" and each.unit in units
        for nominal in each.nominals
    }
    return tuple(sorted(found, key=lambda wanted: wanted.nominal))


def _missing(blocks: Sequence[Block]) -> Iterator[Wanted]:
    groups: defaultdict[tuple[str, Unit], list[int]] = defaultdict(list)
    for block in blocks:
        if block.role == "gauge":
            groups[block.set or "", block.unit].append(block.nominal)
    for (_, unit), nominals in groups.items():
        for nominal in sorted(set(_closest(unit, nominals)) - set(nominals)):
            yield Wanted(nominal=nominal, unit=unit)


def _closest(unit: Unit, nominals: Collection[int]) -> tuple[int, ...]:
    """The composition that shares the most lengths with these; of several, the smallest."""
    present = set(nominals)

    def distance(composition: Composition) -> tuple[int, int, str]:
        members = set(composition.nominals)
        return (-len(members & present), len(members - present), composition.id)

    known = (c for c in all_compositions() if c.unit == unit and c.role == "gauge")
    best = min(known, key=distance)
    # If nothing is shared, the closest set says nothing about what is missing.
    return best.nominals if present.intersection(best.nominals) else ()


def _on_the_shelf(blocks: Sequence[Block], role: Role) -> list[Wanted]:
    alike = [block for block in blocks if block.role == role]
    ordered = sorted(alike, key=lambda block: block.nominal)
    return [Wanted(nominal=block.nominal, unit=block.unit, role=role) for block in ordered]


def _wear(blocks: Sequence[Block]) -> Iterator[Wanted]:
    yield from _on_the_shelf(blocks, "wear")
    for composition in all_compositions():
        if composition.role == "wear" and composition.unit in _units(blocks):
            for nominal in composition.nominals:
                yield Wanted(nominal=nominal, unit=composition.unit, role="wear")


def _units(blocks: Collection[Block]) -> tuple[Unit, ...]:
    """The units that the blocks are marked in; for an empty shelf, all units."""
    marked = {block.unit for block in blocks}
    return tuple(unit for unit in _UNITS if unit in marked) or _UNITS
