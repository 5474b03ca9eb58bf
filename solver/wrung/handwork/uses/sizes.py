"""Sizes that are compared with a stack by way of pins, rolls, wires or balls."""

from typing import Final

from wrung.handwork.uses.use import Uses
from wrung.measures import Measure
from wrung.targets.centre_distance import CentreDistanceResult, CentreDistanceTarget
from wrung.targets.size import FoundSize, SizeResult
from wrung.texts import Figure, figure, phrase

_PINS: Final = {
    ("between", "hole"): "use.pins_between_hole",
    ("between", "edge"): "use.pins_between_edge",
    ("over", "hole"): "use.pins_over_hole",
    ("over", "edge"): "use.pins_over_edge",
}


def centre_distance(target: CentreDistanceTarget, result: CentreDistanceResult) -> Uses:
    """Between the pins or over them, and what distance that stands for."""
    key = _PINS[target.stack_position, target.measured_to]
    yield from _use(result, result.centre_distance, key)


def _use(result: SizeResult, found: FoundSize, key: str, *more: Figure) -> Uses:
    """The length of the stack, and the size that it stands for as it is built."""
    if result.stack is None or found.size_as_built is None:
        return
    length = figure("length", result.stack.length, Measure.LENGTH)
    size = figure("size", found.size_as_built, Measure.LENGTH)
    yield result.stack.role, phrase(key, length, size, *more)
