"""The step to which a computed length is rounded, so that blocks can build it."""

from collections.abc import Iterable, Sequence
from math import gcd
from typing import Final, TypeVar

from msgspec import Struct
from msgspec.structs import replace

from wrung.blocks import Block
from wrung.checked_types import typed
from wrung.lengths import Unit, inch, mm, to_multiple

Target = TypeVar("Target", bound=Struct)

USUAL_STEP: Final[dict[Unit, int]] = {"mm": mm("0.001"), "in": inch("0.0001")}
"""The last figure that the shop works to (common practice, no source).

Metric sets have one block of 1.0005 mm at most, so half of it would often be more than they can
serve for several set-ups at once.
"""

_COARSEST: Final = 10
"""Times the usual step: the finest block of a set is 0.01 mm or 0.001 in off the next at most."""


def to_step(length: int, step: int | None) -> int:
    """The multiple of the step nearest to a length, quanta; without a step, of 0.001 mm."""
    return to_multiple(length, step or USUAL_STEP["mm"])


def at_usual_step(
    targets: Iterable[Target], blocks: Sequence[Block], unit: Unit
) -> tuple[Target, ...]:
    """The targets, each that leaves its step open with the usual one for these blocks."""
    targets = tuple(targets)
    if all(getattr(target, "step", unit) is not None for target in targets):
        return targets
    step = usual_step(blocks, unit)
    return tuple(
        replace(target, step=step) if getattr(target, "step", step) is None else target
        for target in targets
    )


@typed
def usual_step(blocks: Iterable[Block], unit: Unit) -> int:
    """The step that computed lengths are rounded to for these blocks, quanta.

    It is 0.001 mm or 0.0001 in; for blocks that are graded more coarsely, such as a metric set
    whose finest block is 1.005 mm, their own step, up to ten times as much. Blocks marked in the
    other unit do not count.
    """
    own = [block.nominal for block in blocks if block.unit == unit and block.role == "gauge"]
    # All the blocks' sums are multiples of it; 1 leaves the usual step where there is no block.
    graded = gcd(*own) or 1
    usual = USUAL_STEP[unit]
    # Rounded up to whole grades: a finer step would ask for lengths that no stack has.
    step = -(-usual // graded) * graded
    # A few odd or long blocks would round to whole inches, far from what was asked for.
    return step if step <= _COARSEST * usual else usual
