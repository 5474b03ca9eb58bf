"""The cases of angle blocks that targets share: what is in each, and who wants something of it."""

from collections import Counter
from collections.abc import Iterator, Sequence
from typing import Final

from msgspec import Struct

from wrung.angle_blocks.compositions import angle_composition, angle_grade
from wrung.angles import to_dms
from wrung.blocks import Block
from wrung.errors import Fault
from wrung.names import numbered
from wrung.targets.angle_blocks import AngleBlocksTarget
from wrung.targets.base import TimedTarget

_OF_CASE: Final = ("composition", "grade", "limit_deviation")


class AngleCase(Struct, frozen=True, kw_only=True):
    """One case, with every target that names it.

    Targets may leave out what another says: a block that one of them misses is there for none, and
    the grade and limit that one of them gives hold for all.

    Attributes:
        name: of the case.
        blocks: those that are there, largest first; nominal angles and limits in quanta of 1e-9
            seconds in place of lengths.
        targets: in their order.
    """

    name: str
    blocks: tuple[Block, ...]
    targets: tuple[AngleBlocksTarget, ...]


def angle_cases(targets: Sequence[TimedTarget]) -> tuple[AngleCase, ...]:
    """The cases that targets name, in the order in which they are first named.

    Raises:
        InputError: a case or a grade is not known.
    """
    named: dict[str, list[AngleBlocksTarget]] = {}
    for target in targets:
        if isinstance(target, AngleBlocksTarget):
            named.setdefault(target.case_name, []).append(target)
    return tuple(_case(name, sharing) for name, sharing in named.items())


def case_faults(targets: Sequence[TimedTarget]) -> Iterator[Fault]:
    """Where a target contradicts what an earlier one says of the same case."""
    said: dict[tuple[str, str], object] = {}
    for index, target in enumerate(targets):
        if not isinstance(target, AngleBlocksTarget):
            continue
        for member in _OF_CASE:
            value, case = getattr(target, member), target.case_name
            # What is left out contradicts nothing.
            if value is not None and said.setdefault((case, member), value) != value:
                detail = f"the case {case!r} has another one in a target before"
                yield Fault(pointer=f"/targets/{index}/{member}", detail=detail)


def _case(name: str, sharing: Sequence[AngleBlocksTarget]) -> AngleCase:
    there = Counter(angle_composition(sharing[0].composition).nominals)
    missing: Counter[int] = Counter()
    for target in sharing:
        # The most that any one target misses: two that miss a block mean the same block.
        missing |= Counter(target.missing)
    nominals = sorted((there - missing).elements(), reverse=True)
    limit = _limit(sharing)
    # Should a set hold an angle twice: blocks are told apart by name alone.
    labelled = zip(numbered(map(to_dms, nominals)), nominals, strict=True)
    return AngleCase(
        name=name,
        blocks=tuple(
            Block(id=f"{name}/{label}", nominal=nominal, limit_deviation=limit, set=name)
            for label, nominal in labelled
        ),
        targets=tuple(sharing),
    )


def _limit(sharing: Sequence[AngleBlocksTarget]) -> int:
    """How much each block may be wrong by: as stated, by grade, or by its case's default."""
    stated = (t.limit_deviation for t in sharing if t.limit_deviation is not None)
    graded = (angle_grade(t.grade).limit for t in sharing if t.grade is not None)
    usual = angle_composition(sharing[0].composition).limit
    return next(stated, next(graded, usual))
