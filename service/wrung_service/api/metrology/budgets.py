"""Uncertainty budgets on the wire."""

from typing import Annotated, Final, Literal, TypeAlias

from msgspec import Meta, Struct

from wrung.lengths import SmallUnit, to_text
from wrung.measures import FAHRENHEIT_A_KELVIN
from wrung.metrology import Budget, Errors, Note, Row
from wrung.metrology.budget import InputUnit, NoteCode, RowKind
from wrung.metrology.budget.rows import NM
from wrung.metrology.quantities import Distribution
from wrung_service.api.metrology.figures import finite, rounded
from wrung_service.api.texts import DecimalText
from wrung_service.api.words import Words

TableUnit: TypeAlias = Literal["nm", "uin"]
InputUnitOnWire: TypeAlias = Literal[InputUnit, "uin", "degF"]
BudgetDetail: TypeAlias = Literal["none", "totals", "table"]


class BudgetRow(Struct, frozen=True, kw_only=True):
    """One input of a budget, and what it contributes."""

    kind: Annotated[RowKind, Meta(description="Kind of input.")]
    subject: Annotated[str, Meta(description="The block, joint or material concerned.")]
    unit: Annotated[InputUnitOnWire, Meta(description="Unit of the input.")]
    estimate: Annotated[float, Meta(description="Best estimate of the input.")]
    standard_uncertainty: Annotated[float, Meta(ge=0, description="Of the input.")]
    limits: Annotated[
        float,
        Meta(
            ge=0,
            description="Half-width of the interval that contains the input in the worst case.",
        ),
    ]
    distribution: Annotated[Distribution, Meta(description="Its probability distribution.")]
    degrees_of_freedom: Annotated[float | None, Meta(description="Null means infinitely many.")]
    sensitivity: Annotated[
        float, Meta(description="Change of the length with the input, nm per unit of the input.")
    ]
    contribution: Annotated[
        float,
        Meta(
            description="Sensitivity times standard uncertainty, with its sign, in the "
            "`table_unit` of the budget."
        ),
    ]
    certificate: Annotated[
        str | None,
        Meta(
            description="The certificate; rows with the same one are correlated. Empty if it "
            "is not named."
        ),
    ]


class BudgetNote(Struct, frozen=True, kw_only=True):
    """Something that the budget assumes or leaves out."""

    code: Annotated[NoteCode, Meta(description="Which note it is, for programs.")]
    subjects: Annotated[
        tuple[str, ...],
        Meta(
            description="The blocks or materials concerned; empty if it concerns the whole budget."
        ),
    ]
    text: Annotated[str, Meta(description="The note as a sentence.")]


class StackErrors(Struct, frozen=True, kw_only=True):
    """How much a stack can be wrong by, in the small unit, rounded up."""

    worst_case: Annotated[
        DecimalText, Meta(description="Margins and joints, all in the same direction.")
    ]
    expanded_uncertainty: Annotated[DecimalText, Meta(description="Expanded uncertainty.")]
    all_inputs_at_limits: Annotated[
        DecimalText,
        Meta(description="Every input of the budget at its limit, all in the same direction."),
    ]


class StackBudget(Struct, frozen=True, kw_only=True):
    """The uncertainty budget of a stack, by the GUM (JCGM 100:2008)."""

    length: Annotated[
        DecimalText,
        Meta(
            description="Best estimate of the stack's length at its temperature; with a part, of "
            "the size at 20 °C of a part that fits it."
        ),
    ]
    offset: Annotated[
        DecimalText, Meta(description="`length` less the wanted length, in the small unit.")
    ]
    standard_uncertainty: Annotated[DecimalText, Meta(description="Combined, in the small unit.")]
    degrees_of_freedom: Annotated[
        float | None,
        Meta(
            description="Effective degrees of freedom (Welch-Satterthwaite); "
            "null means infinitely many."
        ),
    ]
    coverage_factor: Annotated[
        float, Meta(description="From Student's t for these degrees of freedom.")
    ]
    coverage_probability: Annotated[
        float, Meta(description="Probability that the coverage factor is chosen for.")
    ]
    corrected: Annotated[
        StackErrors, Meta(description="Errors if you allow for the offset when you use the stack.")
    ]
    uncorrected: Annotated[
        StackErrors, Meta(description="Errors if you do not; the offset adds to each figure.")
    ]
    notes: Annotated[
        tuple[BudgetNote, ...], Meta(description="What the budget assumes or leaves out.")
    ]
    table_unit: Annotated[
        TableUnit | None,
        Meta(description="Unit of lengths in the table: nm, or µin for `in`; null without one."),
    ]
    table: Annotated[
        tuple[BudgetRow, ...] | None,
        Meta(description="Every input; null unless the request asks for `table`."),
    ]


def write_budget(budget: Budget, words: Words, *, table: bool) -> StackBudget:
    """The budget as it stands on the wire."""
    small = words.small
    combined = budget.combined
    return StackBudget(
        length=to_text(budget.length, words.unit),
        offset=to_text(budget.offset, small),
        # The one float among lengths: a root is seldom exact. It is written as the others are.
        standard_uncertainty=to_text(round(combined.standard_uncertainty_nm * NM), small),
        degrees_of_freedom=finite(combined.degrees_of_freedom),
        coverage_factor=rounded(combined.coverage_factor),
        coverage_probability=budget.coverage_probability,
        corrected=_errors(budget.corrected, small),
        uncorrected=_errors(budget.uncorrected, small),
        notes=tuple(_note(note, words) for note in budget.notes),
        table_unit=_table_unit(words) if table else None,
        table=tuple(_row(row, words) for row in budget.rows) if table else None,
    )


def _errors(errors: Errors, small: SmallUnit) -> StackErrors:
    return StackErrors(
        worst_case=to_text(errors.worst_case, small),
        expanded_uncertainty=to_text(errors.expanded_uncertainty, small),
        all_inputs_at_limits=to_text(errors.all_inputs_at_limits, small),
    )


def _note(note: Note, words: Words) -> BudgetNote:
    return BudgetNote(code=note.code, subjects=note.subjects, text=words.say(note.said))


def _table_unit(words: Words) -> TableUnit:
    return "nm" if words.unit == "mm" else "uin"


def _row(row: Row, words: Words) -> BudgetRow:
    unit, size = _input_in(row.unit, words)
    length = _NM_IN_A_UIN if words.unit == "in" else 1.0
    return BudgetRow(
        kind=row.kind,
        subject=words.say(row.said) if row.said else row.subject,
        unit=unit,
        estimate=rounded(row.estimate / size),
        standard_uncertainty=rounded(row.standard_uncertainty / size),
        limits=rounded(row.limit / size),
        distribution=row.distribution,
        degrees_of_freedom=finite(row.degrees_of_freedom),
        sensitivity=rounded(row.sensitivity * size / length),
        contribution=rounded(row.contribution_nm / length),
        certificate=row.certificate,
    )


def _input_in(unit: InputUnit, words: Words) -> tuple[InputUnitOnWire, float]:
    """The unit that an input is shown in, and its size in that of the library."""
    if unit == "nm" and words.unit == "in":
        return "uin", _NM_IN_A_UIN
    if unit == "K" and words.degrees == "degF":
        return "degF", float(1 / FAHRENHEIT_A_KELVIN)
    return unit, 1.0


_NM_IN_A_UIN: Final = 25.4
