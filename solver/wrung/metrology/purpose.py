"""What a stack must be good enough for: limits of a part, and the rule to decide by."""

from fractions import Fraction
from typing import Final, Literal, TypeAlias

from msgspec import Struct

from wrung.checked_types import CheckedStruct
from wrung.errors import not_negative, positive, require, unless

Guard: TypeAlias = Literal[
    "expanded_uncertainty", "one_sided_95", "none", "multiple", "false_accept_2"
]
MOST_MULTIPLE: Final = 10.0


class Zone(Struct, frozen=True, kw_only=True):
    """Sizes from ``lower`` to ``upper``, quanta of 0.01 nm."""

    lower: int
    upper: int


class Purpose(CheckedStruct, frozen=True, kw_only=True):
    """What a stack must be good enough for; lengths in quanta of 0.01 nm.

    Attributes:
        limits: smallest and largest allowed size of the part.
        corrected: whether the stack's known offset is allowed for in use.
        guard: how wide the guard bands are.
        guard_multiple: of the expanded uncertainty, for the guard ``multiple``; below zero, sizes
            beyond the limits are accepted, too.
        in_tolerance: share of the parts that are within the limits before they are measured; None
            if it is not known.
        measured: a measured size to be decided on.
        comparison_uncertainty: expanded uncertainty (k = 2) of comparing the part with the stack.
        required_ratio: smallest test uncertainty ratio asked for; None if none.
    """

    limits: Zone
    corrected: bool = False
    guard: Guard = "expanded_uncertainty"
    guard_multiple: float | None = None
    in_tolerance: float | None = None
    measured: int | None = None
    comparison_uncertainty: int = 0
    required_ratio: Fraction | None = None


def check_purpose(purpose: Purpose) -> None:
    """Refuse a purpose that makes no sense.

    Raises:
        InputError: with pointers relative to it.
    """
    limits, multiple, share = purpose.limits, purpose.guard_multiple, purpose.in_tolerance
    needs_multiple = purpose.guard == "multiple"
    # Written so that nan, which compares false with everything, is refused as well.
    small = multiple is None or -MOST_MULTIPLE <= multiple <= MOST_MULTIPLE
    require(
        unless(limits.lower < limits.upper, "limits", "lower must be smaller than upper"),
        *positive(purpose, "required_ratio"),
        unless(
            needs_multiple == (multiple is not None),
            "guard_multiple",
            "belongs to the guard `multiple`, which needs it",
        ),
        unless(small, "guard_multiple", "must be from -10 to 10"),
        *not_negative(purpose, "comparison_uncertainty"),
        unless(share is None or 0 < share < 1, "in_tolerance", "must be between 0 and 1"),
    )
