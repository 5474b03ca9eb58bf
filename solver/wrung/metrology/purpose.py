"""What a stack must be good enough for: limits of a part, and the rule to decide by."""

from fractions import Fraction
from typing import Final, Literal, TypeAlias

from msgspec import Struct

from wrung.checked_types import CheckedStruct
from wrung.errors import Fault, InputError

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
    multiple, share = purpose.guard_multiple, purpose.in_tolerance
    wrong = (
        (
            "limits",
            purpose.limits.lower >= purpose.limits.upper,
            "lower must be smaller than upper",
        ),
        (
            "required_ratio",
            purpose.required_ratio is not None and purpose.required_ratio <= 0,
            "must be greater than zero",
        ),
        (
            "guard_multiple",
            (purpose.guard == "multiple") != (multiple is not None),
            "belongs to the guard `multiple`, which needs it",
        ),
        (
            "guard_multiple",
            # Written so that nan, which compares false with everything, is refused as well.
            multiple is not None and not -MOST_MULTIPLE <= multiple <= MOST_MULTIPLE,
            "must be from -10 to 10",
        ),
        (
            "comparison_uncertainty",
            purpose.comparison_uncertainty < 0,
            "must not be negative",
        ),
        ("in_tolerance", share is not None and not 0 < share < 1, "must be between 0 and 1"),
    )
    faults = [Fault(pointer=f"/{name}", detail=detail) for name, bad, detail in wrong if bad]
    if faults:
        raise InputError(faults)
