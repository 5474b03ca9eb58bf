"""What an import would change: each set as it lies in its case, before and after, and a list."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import zip_longest
from typing import Final

from msgspec import Struct

from wrung.markings import engraved
from wrung_service.api.crib_pages.case import Case, Cell, case_of
from wrung_service.api.crib_pages.members import Members
from wrung_service.store.blocks import KeptBlock
from wrung_service.store.sets import StoredSet
from wrung_service.store.sites import Site
from wrung_service.usecases.inventory.bring_in import BroughtIn
from wrung_service.usecases.look_at_crib import CasesSeen
from wrung_service.usecases.shelf.write_blocks import BlockChange

MOST_CASES: Final = 6
"""Sets that are drawn; the list has all."""


class ImportSeen(Struct, frozen=True, kw_only=True):
    """What was found of an import; ``cases`` are the sets that are drawn, as they are now."""

    site: Site
    found: BroughtIn
    cases: CasesSeen


class Place(Struct, frozen=True, kw_only=True):
    """A place of a case, and whether the import changes what lies there."""

    cell: Cell
    changed: bool


class RowPair(Struct, frozen=True, kw_only=True):
    """A row of a case, before and after."""

    before: tuple[Place, ...]
    after: tuple[Place, ...]

    @property
    def changed(self) -> bool:
        """Whether anything in it changes."""
        return any(each.changed for each in (*self.before, *self.after))


class CasePair(Struct, frozen=True, kw_only=True):
    """A set, None for blocks without one, row by row."""

    set: str | None
    rows: tuple[RowPair, ...]


class Change(Struct, frozen=True, kw_only=True):
    """A line of the list; ``what`` is None for a block that is new."""

    block: str
    what: str | None
    before: str
    after: str


class ImportView(Struct, frozen=True, kw_only=True):
    """What is shown of it; ``not_drawn`` are sets that are in the list only."""

    found: BroughtIn
    pairs: Sequence[CasePair]
    not_drawn: int
    changes: Sequence[Change]

    def count(self, effect: str) -> int:
        """How many blocks it does that to."""
        return sum(each.effect == effect for each in self.found.blocks)


def sets_of(found: BroughtIn) -> Sequence[str]:
    """The sets that something changes in, by name."""
    changed = [each for each in found.blocks if each.effect != "unchanged"]
    held = [side.block.set for each in changed for side in (each.before, each.after) if side]
    return sorted({name for name in held if name is not None})


def import_view(seen: ImportSeen, members: Members) -> ImportView:
    """The import as it is shown."""
    changed = [each for each in seen.found.blocks if each.effect != "unchanged"]
    return ImportView(
        found=seen.found,
        pairs=[_pair(each, changed, seen.cases, members) for each in _sets(seen.cases, changed)],
        not_drawn=len(sets_of(seen.found)) - len(seen.cases.sets),
        changes=tuple(line for each in changed for line in _lines(each, members)),
    )


def _sets(cases: CasesSeen, changed: Iterable[BlockChange]) -> Iterator[StoredSet | None]:
    yield from cases.sets
    if any(side.block.set is None for each in changed for side in _sides(each)):
        yield None


def _sides(change: BlockChange) -> Iterator[KeptBlock]:
    if change.before is not None:
        yield change.before
    yield change.after


def _pair(
    of_set: StoredSet | None, changed: Sequence[BlockChange], cases: CasesSeen, members: Members
) -> CasePair:
    name = None if of_set is None else of_set.id
    before = {each.block.id: each for each in cases.blocks.get(name or "", ())}
    before |= {e.before.block.id: e.before for e in changed if e.before and _in(e.before, name)}
    gone = {each.after.block.id for each in changed if not _in(each.after, name)}
    after = {key: each for key, each in before.items() if key not in gone}
    after |= {each.after.block.id: each.after for each in changed if _in(each.after, name)}

    def case(blocks: Mapping[str, KeptBlock]) -> Case:
        return case_of(of_set, blocks.values(), cases.booked_now, members.calendar, members.mark)

    names = {each.after.block.id for each in changed}
    rows = zip_longest(case(before).rows, case(after).rows, fillvalue=())
    return CasePair(set=name, rows=tuple(_row(old, new, names) for old, new in rows))


def _in(held: KeptBlock, name: str | None) -> bool:
    return held.block.set == name


def _row(before: Sequence[Cell], after: Sequence[Cell], names: set[str]) -> RowPair:
    return RowPair(before=_places(before, after, names), after=_places(after, before, names))


def _places(row: Sequence[Cell], other: Sequence[Cell], names: set[str]) -> tuple[Place, ...]:
    """Also where nothing lies, if something does on the other side."""
    return tuple(
        Place(
            cell=cell,
            changed=cell.id in names
            or (cell.id is None and opposite is not None and opposite.id in names),
        )
        for cell, opposite in zip_longest(row, other[: len(row)])
    )


def _lines(change: BlockChange, members: Members) -> Iterator[Change]:
    block = change.after.block
    if change.before is None:
        figure = f"{engraved(block.nominal, block.unit, members.mark)} {block.unit}"
        yield Change(block=block.id, what=None, before="", after=figure)
        return
    units = change.before.block.unit, block.unit
    for each in change.members:
        before, after = (
            members.value(each.member, text, unit) if text else ""
            for text, unit in zip((each.before, each.after), units, strict=True)
        )
        yield Change(block=block.id, what=members.name(each.member), before=before, after=after)
