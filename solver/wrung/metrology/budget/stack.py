"""The uncertainty budget of a stack: every input, its contribution, and the totals."""

from collections.abc import Iterator, Sequence
from math import ceil

from msgspec import Struct
from msgspec.structs import replace

from wrung.blocks import DEFAULT_JOINT_ALLOWANCE, Block, margin
from wrung.checked_types import typed
from wrung.metrology.budget.block import (
    deviation_within_limits,
    drift_row,
    length_row,
    variation_row,
)
from wrung.metrology.budget.combining import Combined, combine
from wrung.metrology.budget.heat import heat_rows
from wrung.metrology.budget.notes import Note, notes
from wrung.metrology.budget.rows import NM, Row, row
from wrung.metrology.conditions import STANDARD, Conditions, check
from wrung.metrology.quantities import Quantity, rectangular
from wrung.metrology.temperature import change_by_temperature
from wrung.texts import figure, phrase


class Errors(Struct, frozen=True, kw_only=True):
    """Three statements of how far off a stack can be, quanta of 0.01 nm, rounded up.

    Attributes:
        worst_case: the planner's figure: margins and joints, all to one side.
        expanded_uncertainty: expanded uncertainty.
        all_inputs_at_limits: every row of the budget at its limit, all to one side.
    """

    worst_case: int
    expanded_uncertainty: int
    all_inputs_at_limits: int


class Budget(Struct, frozen=True, kw_only=True):
    """The uncertainty budget of a stack. Lengths are quanta of 0.01 nm where nothing is said.

    Attributes:
        rows: the table.
        notes: what was taken for granted or left out.
        nominal: sum of the nominal lengths.
        deviation: sum of the certified deviations, 20 °C.
        length: best estimate of the stack's length at its temperature; with a part, of the size at
            20 °C of a part that fits it.
        temperature_effect: what temperature makes of it, contained in ``length``.
        offset: ``length`` less the target, or less ``nominal`` without a target.
        combined: standard and expanded uncertainty, nm, degrees of freedom, coverage factor.
        coverage_probability: of the expanded uncertainty.
        corrected: how far off the stack can be where ``offset`` is allowed for.
        uncorrected: where it is not; the offset then adds to each figure (GUM F.2.4.5).
    """

    rows: tuple[Row, ...]
    notes: tuple[Note, ...]
    nominal: int
    deviation: int
    length: int
    temperature_effect: int
    offset: int
    combined: Combined
    coverage_probability: float
    corrected: Errors
    uncorrected: Errors


@typed
def stack_budget(
    blocks: Sequence[Block],
    conditions: Conditions = STANDARD,
    *,
    target: int | None = None,
    joint_allowance: int = DEFAULT_JOINT_ALLOWANCE,
) -> Budget:
    """The uncertainty budget of a stack of these blocks.

    Args:
        blocks: the blocks of the stack, in any order.
        conditions: where, when and how it is used.
        target: the wanted length, quanta; the sum of the nominal lengths if not given.
        joint_allowance: what one joint adds to the worst case, quanta. Unless the conditions say
            otherwise, a joint is taken to be anywhere within it.

    Raises:
        InputError: the conditions make no sense, a material is not known, or a block has no usable
            statement of its error.
    """
    check(conditions)
    rows = (*block_rows(blocks, conditions), *_rows_beside(blocks, conditions, joint_allowance))
    combined = combine(
        rows,
        coverage_probability=conditions.coverage_probability,
        correlation=conditions.correlation,
    )
    nominal = sum(block.nominal for block in blocks)
    length = _length(blocks, conditions)
    wanted = nominal if target is None else target
    offset = length - wanted
    deviation = sum(block.deviation or 0 for block in blocks)
    # One joint fewer than blocks; the film itself is part of each length (ISO 3650, from memory).
    margins = sum(margin(block) for block in blocks) + max(len(blocks) - 1, 0) * joint_allowance
    corrected = Errors(
        worst_case=margins,
        # Up, since a figure for an error must not promise more than was worked out.
        expanded_uncertainty=ceil(combined.expanded_uncertainty_nm * NM),
        all_inputs_at_limits=ceil(sum(row.limit_nm for row in rows) * NM),
    )
    return Budget(
        rows=rows,
        notes=notes(blocks, conditions, joint_allowance),
        nominal=nominal,
        deviation=deviation,
        length=length,
        temperature_effect=round(change_by_temperature(blocks, conditions)),
        offset=offset,
        combined=combined,
        coverage_probability=conditions.coverage_probability,
        corrected=corrected,
        uncorrected=_with(corrected, offset, nominal + deviation - wanted),
    )


def block_rows(blocks: Sequence[Block], conditions: Conditions) -> Iterator[Row]:
    """The rows that the blocks bring with them: linear in the choice of blocks."""
    yield from map(length_row, blocks)
    yield from filter(None, (drift_row(block, conditions.used_on) for block in blocks))
    yield from filter(None, (variation_row(block, conditions.off_centre) for block in blocks))
    yield from heat_rows(blocks, conditions)


def joint_value(conditions: Conditions, joint_allowance: int) -> Quantity:
    """What one joint adds to the length, nm."""
    if conditions.wringing is None:
        return rectangular(0.0, joint_allowance / NM)
    given = conditions.wringing
    return replace(
        given,
        estimate=given.estimate / NM,
        uncertainty=given.uncertainty / NM,
        limit=given.limit / NM,
    )


def _rows_beside(
    blocks: Sequence[Block], conditions: Conditions, joint_allowance: int
) -> Iterator[Row]:
    joint = joint_value(conditions, joint_allowance)
    for number in range(1, len(blocks)):
        said = phrase("budget.joint", figure("number", number))
        yield row("wringing", f"joint {number}", joint, said=said)
    yield from (row("extra", extra.name, extra.value) for extra in conditions.extras)


def _length(blocks: Sequence[Block], conditions: Conditions) -> int:
    """Best estimate, quanta, with the estimates of joints and extras."""
    films = conditions.wringing.estimate * max(len(blocks) - 1, 0) if conditions.wringing else 0.0
    extras = sum(extra.value.estimate for extra in conditions.extras) * NM
    return sum(block.nominal for block in blocks) + round(
        known_offset(blocks, conditions) + films + extras
    )


def known_offset(blocks: Sequence[Block], conditions: Conditions) -> float:
    """What blocks are known to be off their nominal lengths, quanta; linear in their choice.

    Certified deviations, middles of limits that are not equal, and what temperature does.
    """
    middles = sum(deviation_within_limits(b).estimate for b in blocks if not b.certified) * NM
    deviations = sum(block.deviation or 0 for block in blocks)
    return deviations + middles + change_by_temperature(blocks, conditions)


def _with(corrected: Errors, offset: int, known: int) -> Errors:
    """The same for a stack whose offset is not allowed for.

    The planner's figure knows of certified deviations only, not of temperature or limits' middles.
    """
    return Errors(
        worst_case=abs(known) + corrected.worst_case,
        expanded_uncertainty=abs(offset) + corrected.expanded_uncertainty,
        all_inputs_at_limits=abs(offset) + corrected.all_inputs_at_limits,
    )
