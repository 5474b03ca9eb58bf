"""A gauge set on the shelf: a composition, less what is missing, as single blocks."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from functools import lru_cache

from wrung import grades
from wrung.blocks import Block, Blocks
from wrung.calibrations import Calibration
from wrung.checked_types import CheckedStruct
from wrung.compositions import Composition, composition
from wrung.errors import Fault, InputError, not_negative, not_positive, require
from wrung.lengths import Unit, to_text
from wrung.materials import material_fault
from wrung.names import numbered


class GaugeSet(CheckedStruct, frozen=True, kw_only=True):
    """One set. All lengths are quanta of 0.01 nm.

    Attributes:
        id: names the set, and starts the ids of its blocks.
        composition: id of the composition it was delivered as, see `wrung.compositions`.
        grade: grade of its blocks.
        limit_deviation: largest deviation to expect of any of its blocks; goes before the grade.
        material: material of its blocks, see `wrung.materials`.
        missing: nominal lengths of the blocks that are not there; one length once for each block.
        wear_block_nominals: nominal lengths of the wear blocks that are kept with the set. They
            share its grade and material; wear blocks of another material are a set of their own.
        calibration: when the set was calibrated; holds for each of its blocks.
        uses: how often each of its blocks was used before, where only the set is counted.
    """

    id: str
    composition: str
    grade: str | None = None
    limit_deviation: int | None = None
    material: str | None = None
    missing: tuple[int, ...] = ()
    wear_block_nominals: tuple[int, ...] = ()
    calibration: Calibration | None = None
    uses: int = 0

    def blocks(self) -> tuple[Block, ...]:
        """The blocks that are there, ascending, wear blocks of ``wear_block_nominals`` last.

        A block's id is ``bench-3/0.1005``, of a second one of that length ``bench-3/0.1005#2``;
        it stays the same whichever blocks are missing. Of several of one length the last is the
        one that is missing.

        Raises:
            InputError: with every fault found; pointers are relative to the set, such as
                ``/composition`` (reported alone), ``/missing/1``, ``/wear_block_nominals/0``,
                ``/grade``.
        """
        delivered = composition(self.composition)
        places = _places(self.missing, delivered.nominals)
        require(*_faults(self, delivered, places))
        # Wear blocks last, so that none of them takes a number from a block of the set.
        unit, nominals = delivered.unit, delivered.nominals + self.wear_block_nominals
        labelled = zip(_labels(nominals, unit), nominals, strict=True)
        return Blocks(
            self._block(label, nominal, delivered, place)
            for place, (label, nominal) in enumerate(labelled)
            if place not in places
        )

    def _block(self, label: str, nominal: int, delivered: Composition, place: int) -> Block:
        # Wear blocks that are kept with a set stand after its own.
        own = place < delivered.count
        return Block(
            id=f"{self.id}/{label}",
            nominal=nominal,
            limit_deviation=self.limit_deviation,
            grade=self.grade,
            material=self.material,
            set=self.id,
            role=delivered.role if own else "wear",
            unit=delivered.unit,
            section=delivered.section if own else None,
            uses=self.uses,
            calibration=self.calibration,
        )


# Writing the lengths is half the work of listing a set. Bounded, as callers choose wear blocks.
@lru_cache(maxsize=64)
def _labels(nominals: tuple[int, ...], unit: Unit) -> tuple[str, ...]:
    return tuple(numbered(to_text(nominal, unit) for nominal in nominals))


def _places(missing: Sequence[int], nominals: Sequence[int]) -> tuple[int | None, ...]:
    """Where each missing block stands, the last of a length first; None if there is none."""
    places: defaultdict[int, list[int]] = defaultdict(list)
    for place, nominal in enumerate(nominals):
        places[nominal].append(place)
    return tuple(places[nominal].pop() if places[nominal] else None for nominal in missing)


def _faults(
    gauge_set: GaugeSet, delivered: Composition, places: Sequence[int | None]
) -> Iterator[Fault]:
    gone = set(places)
    present = [n for place, n in enumerate(delivered.nominals) if place not in gone]
    yield from _missing_faults(gauge_set.missing, places, delivered)
    wear = enumerate(gauge_set.wear_block_nominals)
    yield from not_positive({f"/wear_block_nominals/{k}": nominal for k, nominal in wear})
    if (fault := material_fault(gauge_set.material, "/material")) is not None:
        yield fault
    yield from _margin_faults(gauge_set, present, delivered.unit)


def _missing_faults(
    missing: Sequence[int], places: Sequence[int | None], delivered: Composition
) -> Iterator[Fault]:
    for index, (nominal, place) in enumerate(zip(missing, places, strict=True)):
        if place is None:
            block = f"{to_text(nominal, delivered.unit)} {delivered.unit}"
            has = delivered.nominals.count(nominal)
            detail = f"{delivered.id} has {has or 'no'} block{'s' if has > 1 else ''} of {block}"
            yield Fault(pointer=f"/missing/{index}", detail=detail)


def _margin_faults(gauge_set: GaugeSet, present: Sequence[int], unit: Unit) -> Iterable[Fault]:
    if gauge_set.limit_deviation is not None:
        return not_negative(gauge_set, "limit_deviation")
    if gauge_set.grade is None:
        return [Fault(pointer="", detail="the set needs a grade or a limit_deviation")]
    try:
        grade = grades.grade(gauge_set.grade, unit)
    except InputError as error:
        return error.faults
    return _coverage_faults(grade, present, gauge_set.wear_block_nominals)


def _coverage_faults(
    grade: grades.Grade, present: Sequence[int], wear: Sequence[int]
) -> Iterator[Fault]:
    uncovered = [nominal for nominal in present if not grade.covers(nominal)]
    if uncovered:
        yield Fault(pointer="/grade", detail=grade.refusal(uncovered[-1]))
    for index, nominal in enumerate(wear):
        if nominal > 0 and not grade.covers(nominal):
            yield Fault(pointer=f"/wear_block_nominals/{index}", detail=grade.refusal(nominal))
