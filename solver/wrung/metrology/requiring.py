"""Ratios that stacks must keep to be planned at all, as the most that an error may be."""

from collections.abc import Collection, Iterator, Sequence

from wrung.blocks import Block
from wrung.errors import Fault, positive
from wrung.metrology.error_measure import ErrorMeasure, RequiredRatio
from wrung.metrology.measuring import unshared
from wrung.metrology.planning_costs import fixed_variance, most_variance, safe_factor
from wrung.metrology.uncertainty_ratio import largest_uncertainty
from wrung.names import repeats
from wrung.stack_names import StackName


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
