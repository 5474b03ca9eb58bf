"""What the errors of stacks are compared by, as whole numbers that add over blocks and joints.

The default is the contract's worst-case error. Every other measure has sums of the same form, so
that whatever minimises the one minimises the other:
``|off + sum of shifts| + sum of spreads + joints * cost of a joint``, with ``off`` the difference
of the nominal length from the target, or 0 for a corrected stack.
One has the square of the first sum in place of its absolute value; see `ErrorMeasure.squares`.
Ratios that stacks must keep to be planned at all become the most that such an error may be.
"""

from collections.abc import Collection, Iterable, Iterator, Sequence
from typing import Final

from msgspec import Struct
from msgspec.structs import replace

from wrung.blocks import Block, margin
from wrung.errors import Fault, InputError, positive
from wrung.metrology.conditions import Conditions
from wrung.metrology.error_measure import ErrorMeasure, RequiredRatio
from wrung.metrology.planning_costs import (
    block_cost,
    fixed_variance,
    joint_variance,
    most_variance,
    safe_factor,
    variance_of,
)
from wrung.metrology.uncertainty_ratio import largest_uncertainty
from wrung.names import repeats
from wrung.stack_names import StackName

MOST_VARIANCE: Final = 1 << 46
"""Of all blocks and joints together, (0.1 nm)²: beyond it, searches could not tell block counts and
errors apart. Its root is a standard uncertainty of 0.8 mm; a whole shelf stays far below.
"""


class ErrorCost(Struct, frozen=True, kw_only=True):
    """What a block brings into the error of a stack, in the unit of the measure."""

    shift: int
    spread: int


def error_cost(block: Block, measure: ErrorMeasure) -> ErrorCost:
    """What the block costs.

    Raises:
        InputError: the block has no usable statement of its error, or its material is not known.
    """
    if measure.by_variance:
        under = unshared(measure.conditions)
        off = 0 if measure.corrected else block_cost(block, under).offset
        return ErrorCost(shift=off, spread=variance_of(block, under))
    middle, spread = _limits(block) if measure.unequal_limits else (0, margin(block))
    shift = 0 if measure.corrected else (block.deviation or 0) + middle
    return ErrorCost(shift=shift, spread=spread)


def joint_cost(measure: ErrorMeasure, joint_allowance: int) -> int:
    """What a joint costs, in the unit of the measure."""
    if measure.by_variance:
        return joint_variance(unshared(measure.conditions), joint_allowance)
    return joint_allowance


def measure_faults(
    blocks: Sequence[Block], measure: ErrorMeasure, joint_allowance: int, widest: int = 0
) -> Iterable[Fault]:
    """What is wrong with the measure, or with measuring these blocks by it.

    ``widest`` is how far a stack's nominal length may be from its target, quanta.
    """
    at = "/error_measure"
    if not measure.by_variance:
        return
    if measure.unequal_limits:
        detail = "is for worst_case; variances take unequal limits as they are anyway"
        yield Fault(pointer=f"{at}/unequal_limits", detail=detail)
    try:
        costs = [error_cost(block, measure) for block in blocks]
    except InputError as error:
        yield from error.all_at(f"{at}/kind").faults
        return
    joints = len(blocks) * joint_cost(measure, joint_allowance)
    variance = sum(cost.spread for cost in costs) + joints
    # Every block off to the same side: no stack of them can be further off.
    off = 0 if measure.corrected else widest + sum(abs(cost.shift) for cost in costs)
    if variance >= MOST_VARIANCE:
        yield Fault(pointer=f"{at}/kind", detail="the blocks are too uncertain to add variances")
    elif measure.error(off, variance) >= MOST_VARIANCE:
        detail = "must be true where tolerances or deviations are as wide as these"
        yield Fault(pointer=f"{at}/corrected", detail=detail)


def most_errors(
    required: Sequence[RequiredRatio], blocks: Sequence[Block], measure: ErrorMeasure
) -> dict[StackName, int]:
    """By stack the largest error, in the unit of the measure, that keeps the ratio; -1 if none."""
    if not measure.by_variance:
        # Down: a whole quantum more would already break the ratio.
        return {each.name: int(largest_uncertainty(each.width, each.ratio)) for each in required}
    # Once for all of them, since every block counts.
    factor = safe_factor(blocks, unshared(measure.conditions)) if required else 1.0
    # What every stack has alike is no choice of the planner, so it is taken off beforehand.
    fixed = fixed_variance(measure.conditions)
    return {
        each.name: max(most_variance(each.width, each.ratio, factor) - fixed, -1)
        for each in required
    }


def ratio_faults(
    required: Sequence[RequiredRatio], names: Collection[StackName]
) -> Iterator[Fault]:
    """What is wrong with the ratios, given the names of all stacks."""
    twice = frozenset(repeats(each.name for each in required))
    for index, each in enumerate(required):
        at = f"/required_ratios/{index}"
        if each.name not in names:
            yield Fault(pointer=f"{at}/target", detail=f"there is no stack {str(each.name)!r}")
        elif index in twice:
            yield Fault(pointer=f"{at}/target", detail="the stack has a ratio already")
        yield from positive(each, "width", "ratio", at=at)


def unshared(conditions: Conditions) -> Conditions:
    """The conditions as far as nothing is shared between blocks: independent and at 20 °C."""
    return replace(conditions, correlation=0.0, temperature=None, part=None, extras=())


def _limits(block: Block) -> tuple[int, int]:
    """Middle and half-width of a block's limits; half a quantum is rounded up."""
    cost = block_cost(block)
    middle = (cost.plus - cost.minus) // 2
    return middle, max(cost.plus - middle, cost.minus + middle)
