"""The checker's variances, from rows of the uncertainty budget and by no cost of a planner.

Certificates count as independent and everything as being at 20 °C, see `ErrorMeasure`: then each
row is a variance of its own, and a block has the sum of them in (0.1 nm)², rounded up.
"""

from collections.abc import Iterable, Sequence
from math import ceil
from typing import Final

from msgspec.structs import replace

from wrung.blocks import Block
from wrung.metrology.budget.stack import block_rows, joint_value, known_offset
from wrung.metrology.conditions import Conditions
from wrung.metrology.error_measure import QUANTA_A_STEP
from wrung.metrology.student import coverage_factor

_STEPS_A_NM: Final = 10


def block_variance(block: Block, conditions: Conditions) -> int:
    """Of one block, (0.1 nm)²."""
    return _rounded_up(row.contribution_nm for row in block_rows([block], _unshared(conditions)))


def known_off(block: Block, conditions: Conditions) -> int:
    """What a block is known to be off its nominal length, to a whole quantum."""
    return round(known_offset([block], _unshared(conditions)))


def mean_square_error(
    blocks: Sequence[Block], length: int, conditions: Conditions, joint_allowance: int
) -> tuple[int, int]:
    """Of a stack, (0.1 nm)²: its variance, and the square of what it is known to be off.

    The square is rounded down because the measure defines it so, not for want of digits.
    """
    under = _unshared(conditions)
    joint = _rounded_up([joint_value(under, joint_allowance).uncertainty])
    variance = sum(block_variance(block, under) for block in blocks) + (len(blocks) - 1) * joint
    off = sum(block.nominal + known_off(block, under) for block in blocks) - length
    return variance, off**2 // QUANTA_A_STEP**2


def largest_factor(shelf: Sequence[Block], conditions: Conditions) -> float:
    """The largest coverage factor of any stack of the shelf.

    Its degrees of freedom are no fewer than the fewest that go in (GUM G.4.1).
    """
    under = _unshared(conditions)
    freedoms = [row.degrees_of_freedom for row in block_rows(shelf, under)]
    freedoms.append(joint_value(under, 0).degrees_of_freedom)
    return coverage_factor(conditions.coverage_probability, min(freedoms))


def expanded(variance: int, factor: float, conditions: Conditions) -> float:
    """The expanded uncertainty of a stack, with what every stack has alike, quanta."""
    alike = _rounded_up(extra.value.uncertainty for extra in conditions.extras)
    return float(factor * (variance + alike) ** 0.5 * QUANTA_A_STEP)


def _rounded_up(uncertainties_nm: Iterable[float]) -> int:
    sizes = [size * _STEPS_A_NM for size in uncertainties_nm]
    return ceil(sum(size * size for size in sizes))


def _unshared(conditions: Conditions) -> Conditions:
    """Nothing shared between blocks, and nothing that every stack has alike."""
    return replace(conditions, correlation=0.0, temperature=None, part=None, extras=())
