"""The checker's figures: what stacks are wrong by, by plain arithmetic from their blocks."""

from collections.abc import Sequence
from typing import Final, TypeAlias

from wrung.answers import Answer
from wrung.blocks import Block, margin
from wrung.checker.variances import (
    block_variance,
    expanded,
    known_off,
    largest_factor,
    mean_square_error,
)
from wrung.grades import limits
from wrung.metrology.error_measure import ErrorMeasure, RequiredRatio

Pair: TypeAlias = tuple[int, int | None]
"""A total and its bound."""

Kind: TypeAlias = tuple[int, str, str | None, int, int]
"""Nominal length, role, and what a block brings into an error: to one side, and to both."""

_ROUNDING: Final = 1e-9


def worst_case_error(blocks: Sequence[Block], length: int, joint_allowance: int) -> int:
    """|nominal + deviations - length| + margins + joints * joint allowance, quanta."""
    off = sum(block.nominal + (block.deviation or 0) for block in blocks) - length
    return abs(off) + sum(map(margin, blocks)) + (len(blocks) - 1) * joint_allowance


def compared_error(
    blocks: Sequence[Block], length: int, measure: ErrorMeasure, joint_allowance: int
) -> int:
    """The error of a stack by another measure, in its unit."""
    if measure.kind == "expanded_uncertainty":
        variance, square = mean_square_error(blocks, length, measure.conditions, joint_allowance)
        return variance if measure.corrected else variance + square
    limits = [_limits(block, measure) for block in blocks]
    spread = sum(half for _, half in limits) + (len(blocks) - 1) * joint_allowance
    if measure.corrected:
        return spread
    middles = sum(middle for middle, _ in limits)
    off = sum(block.nominal + (block.deviation or 0) for block in blocks) - length
    return abs(off + middles) + spread


def kind_of(block: Block, measure: ErrorMeasure) -> Kind:
    """What tells blocks apart where they may stand for one another."""
    if measure.kind == "expanded_uncertainty":
        variance = block_variance(block, measure.conditions)
        shift = 0 if measure.corrected else known_off(block, measure.conditions)
        return (block.nominal, block.role, block.body, shift, variance)
    middle, half = _limits(block, measure)
    shift = 0 if measure.corrected else (block.deviation or 0) + middle
    return (block.nominal, block.role, block.body, shift, half)


def factor_of(shelf: Sequence[Block], measure: ErrorMeasure) -> float:
    """What the root of an error is multiplied by where ratios are asked for; 1 for lengths."""
    by_variance = measure.kind == "expanded_uncertainty"
    return largest_factor(shelf, measure.conditions) if by_variance else 1.0


def keeps_ratio(error: int, required: RequiredRatio, measure: ErrorMeasure, factor: float) -> bool:
    """Whether a stack with that error keeps the ratio; rounding is forgiven.

    The factor is that of the expanded uncertainty, see `factor_of`.
    """
    off = float(error)
    if measure.kind == "expanded_uncertainty":
        off = expanded(error, factor, measure.conditions)
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


def _limits(block: Block, measure: ErrorMeasure) -> tuple[int, int]:
    """Middle and half-width, half a quantum rounded up, of the block's error."""
    if not measure.unequal_limits:
        return 0, margin(block)
    if block.grade is None or block.certified or block.limit_deviation is not None:
        return 0, margin(block)
    allowed = limits(block.grade, block.nominal, block.unit)
    return (allowed.upper + allowed.lower) // 2, (allowed.upper - allowed.lower + 1) // 2
