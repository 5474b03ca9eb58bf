"""What each input adds to the uncertainty of a result: the budget of the GUM, 5.1.2 and 8.

A row has the standard uncertainty of an input, the sensitivity coefficient (the change of the
result over that of the input), and their product. Rows count as independent of each other.
"""

from collections.abc import Iterable
from decimal import Decimal
from math import ceil, hypot
from typing import Annotated, Final, Literal, TypeAlias

from msgspec import Meta, Struct

from wrung.angles import SECOND
from wrung.measures import Deviation, Margin, Ratio, Seconds
from wrung.metrology.budget.rows import NM
from wrung.real import PI, in_reals, nearest
from wrung.targets.built import BudgetedStack

BudgetInput: TypeAlias = Literal[
    "stack",
    "comparison",
    "first_pin",
    "second_pin",
    "pin_clearance",
    "included_angle",
    "vertex_height",
    "master_diameter",
    "master_height",
    "roll_diameter",
    "first_end",
    "second_end",
    "measured_rock",
    "wire_diameter",
    "pitch",
    "thread_angle",
    "helix_correction",
    "riser",
]
"""What a result depends on: its stack, how it is compared with that, or a member of the target."""

COVERAGE_FACTOR: Final = 2
_RADIANS_A_SECOND: Final = PI / (180 * 3600)
_SHOWN: Final = Decimal("0.00001")


class SizeContribution(Struct, frozen=True, kw_only=True):
    """What an input adds to the uncertainty of a size."""

    quantity: Annotated[
        BudgetInput, Meta(description="The input: the stack, or a member of the target.")
    ]
    standard_uncertainty: Annotated[
        Margin | None, Meta(description="Its standard uncertainty; null for an angle.")
    ] = None
    sensitivity: Annotated[
        Ratio | None,
        Meta(description="Change of the size over that of the input; null for an angle."),
    ] = None
    uncertainty_of_angle: Annotated[
        Seconds | None, Meta(description="Standard uncertainty of an angle, in seconds.")
    ] = None
    change_per_second: Annotated[
        Deviation | None, Meta(description="Change of the size for one second of an angle.")
    ] = None
    contribution: Annotated[
        Margin, Meta(description="Standard uncertainty of the size from this input alone.")
    ]


class SizeInput(Struct, frozen=True, kw_only=True):
    """An input of a size, as its kind of target states it.

    Attributes:
        quantity: the member of the target.
        standard_uncertainty: quanta; of an angle quanta of 1e-9 seconds.
        sensitivity: change of the size over that of the input; for an angle quanta for a radian.
        is_angle: whether it is an angle.
    """

    quantity: BudgetInput
    standard_uncertainty: Decimal
    sensitivity: Decimal
    is_angle: bool = False


def of_expanded(uncertainty: int) -> Decimal:
    """The standard uncertainty of an expanded one with k = 2."""
    return Decimal(uncertainty) / COVERAGE_FACTOR


@in_reals
def of_limits(half_width: Decimal) -> Decimal:
    """The standard uncertainty of a value that lies anywhere within limits (GUM, 4.3.7)."""
    return half_width / Decimal(3).sqrt()


def of_stack(used: BudgetedStack) -> Decimal:
    """The standard uncertainty of a stack in use, quanta."""
    return Decimal(used.budget.combined.standard_uncertainty_nm) * NM


@in_reals
def size_contribution(found: SizeInput) -> SizeContribution:
    """The row of an input."""
    size = found.standard_uncertainty
    if not found.is_angle:
        return SizeContribution(
            quantity=found.quantity,
            standard_uncertainty=nearest(size),
            sensitivity=found.sensitivity.quantize(_SHOWN),
            contribution=nearest(abs(found.sensitivity) * size),
        )
    per_second = found.sensitivity * _RADIANS_A_SECOND
    return SizeContribution(
        quantity=found.quantity,
        uncertainty_of_angle=nearest(size),
        change_per_second=nearest(per_second),
        contribution=nearest(abs(per_second) * size / SECOND),
    )


def combined(contributions: Iterable[int]) -> int:
    """The root of the sum of squares, rounded up: it must not promise more than it is."""
    return ceil(hypot(*contributions))
