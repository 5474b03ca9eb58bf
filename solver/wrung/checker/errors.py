"""The checker's figures: what stacks are wrong by, by plain arithmetic from their blocks.

Variances are from rows of the uncertainty budget and by no cost of a planner. Certificates count as
independent and everything as being at 20 °C, see `ErrorMeasure`: then each row is a variance of its
own, and a block has the sum of them in (0.1 nm)², rounded up.
"""

from collections.abc import Iterable, Sequence
from math import ceil
from typing import Final, TypeAlias

from msgspec.structs import replace

from wrung.answers import Answer
from wrung.blocks import Block, margin
from wrung.grades import limits
from wrung.metrology.budget.stack import block_rows, joint_value, known_offset
from wrung.metrology.conditions import Conditions
from wrung.metrology.error_measure import QUANTA_A_STEP, ErrorMeasure, RequiredRatio
from wrung.metrology.student import coverage_factor

Pair: TypeAlias = tuple[int, int | None]
"""A total and its bound."""

Kind: TypeAlias = tuple[int, str, str | None, int, int]
"""Nominal length, role, and what a block brings into an error: to one side, and to both."""

_ROUNDING: Final = 1e-9
_STEPS_A_NM: Final = 10


def worst_case_error(blocks: Sequence[Block], length: int, joint_allowance: int) -> int:
    """|nominal + deviations - length| + margins + joints * joint allowance, quanta."""
    off = sum(block.nominal + (block.deviation or 0) for block in blocks) - length
    return abs(off) + sum(map(margin, blocks)) + (len(blocks) - 1) * joint_allowance


def compared_error(
    blocks: Sequence[Block], length: int, measure: ErrorMeasure, joint_allowance: int
) -> int:
    """The error of a stack by another measure, in its unit."""
    brought = [_brought(block, measure) for block in blocks]
    by_variance, joint = measure.kind == "expanded_uncertainty", joint_allowance
    if by_variance:
        under = _unshared(measure.conditions)
        joint = _rounded_up([joint_value(under, joint_allowance).uncertainty])
    spread = sum(both for _, both in brought) + (len(blocks) - 1) * joint
    if measure.corrected:
        return spread
    off = sum(block.nominal for block in blocks) + sum(one for one, _ in brought) - length
    # Rounded down because the measure defines it so, not for want of digits.
    return spread + (off**2 // QUANTA_A_STEP**2 if by_variance else abs(off))


def kind_of(block: Block, measure: ErrorMeasure) -> Kind:
    """What tells blocks apart where they may stand for one another."""
    return (block.nominal, block.role, block.body, *_brought(block, measure))


def _brought(block: Block, measure: ErrorMeasure) -> tuple[int, int]:
    """What a block brings into an error: to one side, and to both."""
    if measure.kind == "expanded_uncertainty":
        under = _unshared(measure.conditions)
        off = 0 if measure.corrected else round(known_offset([block], under))
        return off, _rounded_up(row.contribution_nm for row in block_rows([block], under))
    middle, half = _limits(block, measure)
    return 0 if measure.corrected else (block.deviation or 0) + middle, half


def _limits(block: Block, measure: ErrorMeasure) -> tuple[int, int]:
    """Middle and half-width, half a quantum rounded up, of the block's error."""
    if not measure.unequal_limits:
        return 0, margin(block)
    if block.grade is None or block.certified or block.limit_deviation is not None:
        return 0, margin(block)
    allowed = limits(block.grade, block.nominal, block.unit)
    return (allowed.upper + allowed.lower) // 2, (allowed.upper - allowed.lower + 1) // 2


def _rounded_up(uncertainties_nm: Iterable[float]) -> int:
    sizes = [size * _STEPS_A_NM for size in uncertainties_nm]
    return ceil(sum(size * size for size in sizes))


def _unshared(conditions: Conditions) -> Conditions:
    """Nothing shared between blocks, and nothing that every stack has alike."""
    return replace(conditions, correlation=0.0, temperature=None, part=None, extras=())


def factor_of(shelf: Sequence[Block], measure: ErrorMeasure) -> float:
    """What the root of an error is multiplied by where ratios are asked for; 1 for lengths.

    The largest coverage factor of any stack of the shelf: its degrees of freedom are no fewer than
    the fewest that go in (GUM G.4.1).
    """
    if measure.kind != "expanded_uncertainty":
        return 1.0
    under = _unshared(measure.conditions)
    freedoms = [row.degrees_of_freedom for row in block_rows(shelf, under)]
    freedoms.append(joint_value(under, 0).degrees_of_freedom)
    return coverage_factor(under.coverage_probability, min(freedoms))


def keeps_ratio(error: int, required: RequiredRatio, measure: ErrorMeasure, factor: float) -> bool:
    """Whether a stack with that error keeps the ratio; rounding is forgiven.

    The factor is that of the expanded uncertainty, see `factor_of`; what every stack has alike is
    added before.
    """
    off = float(error)
    if measure.kind == "expanded_uncertainty":
        alike = _rounded_up(extra.value.uncertainty for extra in measure.conditions.extras)
        off = float(factor * (error + alike) ** 0.5 * QUANTA_A_STEP)
    return 2 * off * float(required.ratio) <= required.width * (1 + _ROUNDING)


def compared_pairs(answer: Answer) -> Sequence[Pair]:
    """Totals and bounds of blocks, largest and total error, as they were compared."""
    bounds = answer.bounds
    blocks = (answer.total_blocks, bounds.total_blocks)
    if answer.compared_errors is None:
        largest = (answer.largest_worst_case_error, bounds.largest_worst_case_error)
        return (blocks, largest, (answer.total_worst_case_error, bounds.total_worst_case_error))
    of = answer.compared_errors
    return (blocks, (of.largest, of.largest_bound), (of.total, of.total_bound))


def errors_first(pairs: Sequence[Pair]) -> Sequence[Pair]:
    """In the order of ``least_error``."""
    return (*pairs[1:], pairs[0])
