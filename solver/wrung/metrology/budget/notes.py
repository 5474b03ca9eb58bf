"""What a budget took for granted or left out, so that its figure is not taken for more."""

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from datetime import date
from typing import Final, Literal, TypeAlias

from msgspec import Struct

from wrung import grades
from wrung.blocks import LONG, Block, limits_of
from wrung.materials import material
from wrung.measures import Measure
from wrung.metrology.budget.block import (
    STABILITY_SOURCE,
    UNNAMED,
    certificate_of,
    variation_of,
    years_since_calibration,
)
from wrung.metrology.conditions import Conditions, Part, reference_figure
from wrung.metrology.expansion import coefficient_of, expansion_of_part
from wrung.texts import Figure, Phrase, figure, phrase

NoteCode: TypeAlias = Literal[
    "temperature_not_stated",
    "temperature_exact",
    "temperature_uniform",
    "part_as_warm",
    "part_temperature_exact",
    "part_expansion_of_table",
    "expansion_of_table",
    "material_assumed",
    "expansion_limits_assumed",
    "certificates_correlated",
    "certificate_not_named",
    "coverage_factor_assumed",
    "freedom_not_stated",
    "drift_within_standard",
    "drift_not_counted",
    "touched_anywhere",
    "variation_of_grade",
    "variation_not_counted",
    "within_limits",
    "limits_unequal",
    "joints_within_allowance",
    "one_film",
    "long_blocks",
    "from_memory",
    "overdue",
]
"""What a note says was assumed or left out."""

_GROWTH_OF_STEEL: Final = "11.5"
"""1e-6/K, ISO 3650, from memory."""
FILM: Final = 635
"""About how thick a wringing film is, quanta: a quarter of a microinch; from memory."""


class Note(Struct, frozen=True, kw_only=True):
    """Something taken for granted or left out.

    Attributes:
        code: which.
        subjects: ids of the blocks, or the materials, that it is about; empty if about all.
        figures: those of its wording.
    """

    code: NoteCode
    subjects: tuple[str, ...] = ()
    figures: tuple[Figure, ...] = ()

    @property
    def said(self) -> Phrase:
        """The note as a phrase, to be worded in any language."""
        return phrase(f"note.{self.code}", *self.figures)


def notes(
    blocks: Sequence[Block], conditions: Conditions, joint_allowance: int
) -> tuple[Note, ...]:
    """All notes on the budget of a stack of these blocks."""
    certified = [block for block in blocks if block.certified]
    return (
        *_heat_notes(blocks, conditions),
        *_certificate_notes(certified, conditions),
        *_drift_notes(certified, conditions),
        *_face_notes(certified, conditions),
        *_about("within_limits", (block.id for block in blocks if not block.certified)),
        *_about("limits_unequal", (block.id for block in blocks if _unequal(block))),
        *_joint_notes(blocks, conditions, joint_allowance),
        *_about("long_blocks", (block.id for block in blocks if block.nominal > LONG)),
        *_about("from_memory", _from_memory(blocks, conditions)),
        *_about("overdue", (block.id for block in blocks if _overdue(block, conditions.used_on))),
    )


def _about(code: NoteCode, names: Iterable[str], *figures: Figure) -> Iterator[Note]:
    about = tuple(dict.fromkeys(names))
    if about:
        yield Note(code=code, subjects=about, figures=figures)


def _heat_notes(blocks: Sequence[Block], conditions: Conditions) -> Iterator[Note]:
    temperature, part = conditions.temperature, conditions.part
    if temperature is None:
        growth = figure("growth", _GROWTH_OF_STEEL, Measure.EXPANSION)
        yield Note(code="temperature_not_stated", figures=(reference_figure(), growth))
    elif not temperature.uncertainty:
        yield Note(code="temperature_exact")
    # Without both there are no rows of heat, and so no materials to speak of.
    if not conditions.thermal:
        return
    yield Note(code="temperature_uniform")
    if part is not None and not part.temperature_difference.uncertainty:
        yield Note(
            code="part_temperature_exact"
            if part.temperature_difference.estimate
            else "part_as_warm"
        )
    found = [(block.id, coefficient_of(block)) for block in blocks]
    yield from _about("material_assumed", (name for name, c in found if c.material_assumed))
    yield from _about("expansion_of_table", _of_table(blocks))
    yield from _about("expansion_limits_assumed", (c.of for _, c in found if c.limits_assumed))
    if part is not None and (name := _part_of_table(part)):
        spread = figure("limits", f"{expansion_of_part(part).value.limit:g}", Measure.RATIO)
        yield from _about("part_expansion_of_table", (name,), spread)


def _of_table(blocks: Iterable[Block]) -> Iterator[str]:
    """Materials of blocks whose coefficient of expansion is that of the table."""
    return (coefficient_of(b).of for b in blocks if b.known_calibration.expansion is None)


def _part_of_table(part: Part) -> str | None:
    """The part's material if its coefficient is that of the table, else None."""
    # Of a difference the user states what it is, and the rest is the blocks' coefficient.
    stated = part.expansion is not None or part.expansion_difference is not None
    return None if stated else part.material


def _certificate_notes(certified: Sequence[Block], conditions: Conditions) -> Iterator[Note]:
    named = [certificate_of(block) for block in certified]
    shared = [name for name, times in Counter(named).items() if times > 1 and name != UNNAMED]
    correlation = figure("correlation", f"{conditions.correlation:g}", Measure.RATIO)
    yield from _about("certificates_correlated", shared, correlation)
    # One alone is not correlated with any other.
    unnamed = [block.id for block in certified if certificate_of(block) == UNNAMED]
    yield from _about("certificate_not_named", unnamed if len(unnamed) > 1 else (), correlation)
    yield from _about("coverage_factor_assumed", (b.id for b in certified if not b.calibration))
    vague = (b.id for b in certified if not b.known_calibration.degrees_of_freedom)
    yield from _about("freedom_not_stated", vague)


def _drift_notes(certified: Sequence[Block], conditions: Conditions) -> Iterator[Note]:
    dated = [(b.id, years_since_calibration(b, conditions.used_on)) for b in certified]
    yield from _about("drift_within_standard", (name for name, years in dated if years is not None))
    yield from _about("drift_not_counted", (name for name, years in dated if years is None))


def _face_notes(certified: Sequence[Block], conditions: Conditions) -> Iterator[Note]:
    if not conditions.off_centre:
        return
    known = [block for block in certified if variation_of(block) is not None]
    share = figure("share", f"{100 * conditions.off_centre:g}", Measure.RATIO)
    yield from _about("touched_anywhere", (block.id for block in known), share)
    yield from _about("variation_of_grade", (b.id for b in known if not _measured(b)))
    unknown = (block.id for block in certified if variation_of(block) is None)
    yield from _about("variation_not_counted", unknown)


def _measured(block: Block) -> bool:
    return block.known_calibration.variation is not None


def _unequal(block: Block) -> bool:
    if block.certified:
        return False
    allowed = limits_of(block)
    return allowed.upper != -allowed.lower


def _joint_notes(
    blocks: Sequence[Block], conditions: Conditions, joint_allowance: int
) -> Iterator[Note]:
    if conditions.wringing is None and len(blocks) > 1:
        allowance = figure("allowance", joint_allowance, Measure.MARGIN, "stated")
        yield Note(code="joints_within_allowance", figures=(allowance,))
    yield Note(code="one_film", figures=(figure("film", FILM, Measure.MARGIN),))


def _from_memory(blocks: Sequence[Block], conditions: Conditions) -> Iterator[str]:
    """Names of the figures that nobody compared with print."""
    for block in blocks:
        dated = years_since_calibration(block, conditions.used_on) is not None
        if block.certified and dated:
            yield STABILITY_SOURCE
        if block.grade and _grade_used(block, conditions):
            known = grades.grade(block.grade, block.unit)
            if known.checked == "no":
                yield known.title
    if conditions.thermal:
        of_part = _part_of_table(conditions.part) if conditions.part else None
        names = (*_of_table(blocks), of_part)
        yield from (name for name in names if name and material(name).checked == "no")


def _grade_used(block: Block, conditions: Conditions) -> bool:
    """Whether a figure of the block's grade is in the budget."""
    if block.certified:
        return bool(conditions.off_centre and variation_of(block) and not _measured(block))
    return block.limit_deviation is None


def _overdue(block: Block, day: date | None) -> bool:
    return day is not None and block.known_calibration.overdue(day)
