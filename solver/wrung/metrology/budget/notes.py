"""What a budget took for granted or left out, so that its figure is not taken for more."""

from collections.abc import Iterable, Iterator, Sequence
from typing import Literal, TypeAlias

from msgspec import Struct

from wrung import grades
from wrung.blocks import Block
from wrung.measures import Measure
from wrung.metrology.budget.ageing import years_since_calibration
from wrung.metrology.budget.lengths import UNNAMED
from wrung.metrology.budget.probing import variation_of
from wrung.metrology.conditions import REFERENCE_TEMPERATURE, Conditions
from wrung.metrology.expansion import coefficient_of
from wrung.metrology.parts import expansion_of_part
from wrung.texts import Phrase, figure, phrase

NoteCode: TypeAlias = Literal[
    "temperature_not_stated",
    "certificate_not_named",
    "drift_not_counted",
    "variation_not_counted",
    "limits_unequal",
    "material_assumed",
    "expansion_limits_assumed",
    "overdue",
]


class Note(Struct, frozen=True, kw_only=True):
    """Something taken for granted or left out.

    Attributes:
        code: which.
        subjects: ids of the blocks, or the materials, that it is about; empty if about all.
    """

    code: NoteCode
    subjects: tuple[str, ...] = ()

    @property
    def said(self) -> Phrase:
        """The note as a sentence."""
        reference = figure("reference", f"{REFERENCE_TEMPERATURE:g}", Measure.TEMPERATURE)
        return phrase(f"note.{self.code}", reference)


def notes(blocks: Sequence[Block], conditions: Conditions) -> tuple[Note, ...]:
    """All notes on the budget of a stack of these blocks."""
    certified = [block for block in blocks if block.certified]
    found = [
        *_about("certificate_not_named", _unnamed(certified)),
        *_about("drift_not_counted", _ageless(certified, conditions)),
        *_about("variation_not_counted", _unprobed(certified, conditions)),
        *_about("limits_unequal", (block.id for block in blocks if _unequal(block))),
        *_about("overdue", _overdue(blocks, conditions)),
    ]
    # Without both there are no rows of heat, and so no materials to speak of.
    if conditions.temperature is None and conditions.part is None:
        return (Note(code="temperature_not_stated"), *found)
    return (*found, *_heat_notes(blocks, conditions))


def _about(code: NoteCode, names: Iterable[str]) -> Iterator[Note]:
    about = tuple(dict.fromkeys(names))
    if about:
        yield Note(code=code, subjects=about)


def _unnamed(certified: Iterable[Block]) -> Sequence[str]:
    """Blocks without a certificate's name; one alone is not correlated with any other."""
    named = ((block, block.calibration and block.calibration.certificate) for block in certified)
    unnamed = [block.id for block, certificate in named if (certificate or UNNAMED) == UNNAMED]
    return unnamed if len(unnamed) > 1 else ()


def _ageless(certified: Iterable[Block], conditions: Conditions) -> Iterator[str]:
    for block in certified:
        if years_since_calibration(block, conditions.used_on) is None:
            yield block.id


def _unprobed(certified: Iterable[Block], conditions: Conditions) -> Iterator[str]:
    return (b.id for b in certified if conditions.off_centre and variation_of(b) is None)


def _unequal(block: Block) -> bool:
    if block.certified or block.limit_deviation is not None or block.grade is None:
        return False
    allowed = grades.limits(block.grade, block.nominal, block.unit)
    return allowed.upper != -allowed.lower


def _overdue(blocks: Iterable[Block], conditions: Conditions) -> Iterator[str]:
    day = conditions.used_on
    for block in blocks:
        if day is not None and block.calibration is not None and block.calibration.overdue(day):
            yield block.id


def _heat_notes(blocks: Sequence[Block], conditions: Conditions) -> Iterator[Note]:
    if conditions.temperature is None:
        yield Note(code="temperature_not_stated")
    found = [(block, coefficient_of(block)) for block in blocks]
    yield from _about("material_assumed", (b.id for b, c in found if c.material_assumed))
    assumed = [c.of for _, c in found if c.limits_assumed]
    part = expansion_of_part(conditions.part) if conditions.part else None
    if part is not None and part.limits_assumed:
        assumed.append(part.name)
    yield from _about("expansion_limits_assumed", assumed)
