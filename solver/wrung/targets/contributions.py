"""What each input adds to the uncertainty of a result: the budget of the GUM, 5.1.2 and 8.

A row has the standard uncertainty of an input, the sensitivity coefficient (the change of the
result over that of the input), and their product. Rows count as independent of each other.
"""

from collections.abc import Callable, Iterable
from decimal import Decimal
from math import ceil, hypot
from typing import Annotated, Final, Literal, TypeAlias, TypeVar

from msgspec import Meta, Struct
from msgspec.structs import replace

from wrung.angles import SECOND, from_radians
from wrung.lengths import QUANTA
from wrung.measures import SENSITIVITY_STEP, Deviation, Margin, Ratio, Seconds, Sensitivity
from wrung.metrology.budget.rows import NM
from wrung.metrology.quantities import COVERAGE_FACTOR
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
    "pin_diameter",
    "pressure_angle",
    "riser",
    "left",
    "right",
    "measured_low",
    "measured_high",
    "large_ball",
    "small_ball",
    "measured_large_ball_depth",
    "measured_small_ball_depth",
    "large_roll",
    "small_roll",
    "angle",
    "compression",
]
"""What a result depends on: its stack, how it is compared with that, or a member of the target."""

_CONTRIBUTIONS: Final = Meta(
    description="What each input adds. Inputs of which no uncertainty is given have one of 0."
)
_RADIANS_A_SECOND: Final = PI / (180 * 3600)
_STEP: Final = Decimal("1e-12")
_S = TypeVar("_S", bound=Struct)


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


class SizeBudget(Struct, frozen=True, kw_only=True):
    """How uncertain a size is."""

    contributions: Annotated[tuple[SizeContribution, ...], _CONTRIBUTIONS]
    standard_uncertainty: Annotated[
        Margin, Meta(description="Root of the sum of the squares of all contributions.")
    ]
    expanded_uncertainty: Annotated[Margin, Meta(description="Twice that (k = 2).")]


class AngleContribution(Struct, frozen=True, kw_only=True):
    """What an input, which is a length, adds to the uncertainty of an angle."""

    quantity: Annotated[
        BudgetInput, Meta(description="The input: a stack, or a member of the target.")
    ]
    standard_uncertainty: Annotated[Margin, Meta(description="Its standard uncertainty.")]
    sensitivity: Annotated[
        Sensitivity,
        Meta(description="Change of the angle for 1 µm, or 0.0001 in, of it, in seconds."),
    ]
    contribution: Annotated[
        Seconds, Meta(description="Standard uncertainty of the angle from this input alone.")
    ]


class AngleBudget(Struct, frozen=True, kw_only=True):
    """How uncertain an angle is."""

    contributions: Annotated[tuple[AngleContribution, ...], _CONTRIBUTIONS]
    standard_uncertainty: Annotated[
        Seconds, Meta(description="Root of the sum of the squares of all contributions.")
    ]
    expanded_uncertainty: Annotated[Seconds, Meta(description="Twice that (k = 2).")]


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


def uncertainty_of(what: str) -> Meta:
    """Describes a member that states an expanded uncertainty."""
    return Meta(description=f"Expanded uncertainty (k = {COVERAGE_FACTOR}) of {what}.")


def size_input(
    quantity: BudgetInput, expanded: int, sensitivity: Decimal, *, is_angle: bool = False
) -> SizeInput:
    """An input of a size by its expanded uncertainty (k = 2)."""
    return SizeInput(
        quantity=quantity,
        standard_uncertainty=of_expanded(expanded),
        sensitivity=sensitivity,
        is_angle=is_angle,
    )


def of_expanded(uncertainty: int) -> Decimal:
    """The standard uncertainty of an expanded one with k = 2."""
    return Decimal(uncertainty) / COVERAGE_FACTOR


@in_reals
def of_limits(half_width: Decimal) -> Decimal:
    """The standard uncertainty of a value that lies anywhere within limits (GUM, 4.3.7)."""
    return half_width / Decimal(3).sqrt()


def partial_derivative(of: Callable[[_S], Decimal], at: _S, *members: str) -> Decimal:
    """Change of a figure of a Struct over that of a member, or of several that go together."""
    # A difference so small that 40 digits leave more than enough; no formula to get wrong.
    step: Decimal = _STEP * abs(getattr(at, members[0]))
    more = replace(at, **{each: getattr(at, each) + step for each in members})
    less = replace(at, **{each: getattr(at, each) - step for each in members})
    return (of(more) - of(less)) / (2 * step)


@in_reals
def seconds_a_micrometre(slope: Decimal) -> Decimal:
    """Change of an angle for 1 µm, in seconds, from its slope, radians a quantum."""
    turned = Decimal(from_radians(slope * QUANTA["um"]))
    return (turned / SECOND).quantize(SENSITIVITY_STEP)


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
            sensitivity=found.sensitivity.quantize(SENSITIVITY_STEP),
            contribution=nearest(abs(found.sensitivity) * size),
        )
    per_second = found.sensitivity * _RADIANS_A_SECOND
    return SizeContribution(
        quantity=found.quantity,
        uncertainty_of_angle=nearest(size),
        change_per_second=nearest(per_second),
        contribution=nearest(abs(per_second) * size / SECOND),
    )


def size_budget(inputs: Iterable[SizeInput]) -> SizeBudget:
    """The budget of a size."""
    rows = tuple(map(size_contribution, inputs))
    standard = _combined(each.contribution for each in rows)
    return SizeBudget(
        contributions=rows,
        standard_uncertainty=standard,
        expanded_uncertainty=COVERAGE_FACTOR * standard,
    )


@in_reals
def angle_budget(inputs: Iterable[tuple[BudgetInput, Decimal, Decimal]]) -> AngleBudget:
    """The budget of an angle.

    Args:
        inputs: each with its standard uncertainty, quanta, and the change of the angle over that
            of the input, radians a quantum.
    """
    rows = tuple(
        AngleContribution(
            quantity=quantity,
            standard_uncertainty=nearest(size),
            sensitivity=seconds_a_micrometre(slope),
            contribution=from_radians(abs(slope) * size),
        )
        for quantity, size, slope in inputs
    )
    standard = _combined(each.contribution for each in rows)
    return AngleBudget(
        contributions=rows,
        standard_uncertainty=standard,
        expanded_uncertainty=COVERAGE_FACTOR * standard,
    )


def _combined(contributions: Iterable[int]) -> int:
    """The root of the sum of squares, rounded up: it must not promise more than it is."""
    return ceil(hypot(*contributions))
