"""What a stack must be good enough for, and what is to be said of a size measured with it.

The purpose is limits of a part and the rule to decide by. Of a size: how probably it is within
limits, and what the rule says. Nothing is supposed of the parts.
"""

from fractions import Fraction
from math import inf
from typing import Final, Literal, TypeAlias

from msgspec import Struct

from wrung.checked_types import CheckedStruct
from wrung.errors import not_negative, positive, require, unless
from wrung.metrology.student import share_above

Guard: TypeAlias = Literal[
    "expanded_uncertainty", "one_sided_95", "none", "multiple", "false_accept_2"
]
Statement: TypeAlias = Literal["pass", "conditional_pass", "conditional_fail", "fail"]
MOST_MULTIPLE: Final = 10.0


class Zone(Struct, frozen=True, kw_only=True):
    """Sizes from ``lower`` to ``upper``, quanta of 0.01 nm."""

    lower: int
    upper: int


class Band(Struct, frozen=True, kw_only=True):
    """Sizes from ``lower`` to ``upper``; none if these are the wrong way round.

    In any one unit, as floats.
    """

    lower: float
    upper: float


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


def share_of(band: Band, *, size: float, uncertainty: float, freedom: float = inf) -> float:
    """Probability that the true size lies in a band, by Student's t about the measured one."""
    if uncertainty <= 0:
        return float(band.lower <= size <= band.upper)
    above = share_above((band.lower - size) / uncertainty, freedom)
    return max(0.0, above - share_above((band.upper - size) / uncertainty, freedom))


def statement_of(size: int, *, limits: Zone, accepted: Zone, rejected: Zone) -> Statement:
    """What a rule with four values says of a size."""
    if accepted.lower <= size <= accepted.upper:
        return "pass"
    if not rejected.lower <= size <= rejected.upper:
        return "fail"
    return "conditional_pass" if limits.lower <= size <= limits.upper else "conditional_fail"
