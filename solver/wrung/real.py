"""Real numbers where whole numbers end: sines and their kin, the same on every machine.

Decimals of 40 digits. A height on a sine bar of 10 m has 14 digits in quanta of 0.01 nm, so every
result is right to far below the quantum, and no processor's last bit decides a rounding.
"""

from collections.abc import Callable
from decimal import ROUND_HALF_EVEN, Context, Decimal, localcontext
from functools import wraps
from typing import Final, ParamSpec, TypeVar

PI: Final = Decimal("3.141592653589793238462643383279502884197169399375")
_CONTEXT: Final = Context(prec=40, rounding=ROUND_HALF_EVEN)
_SMALLEST: Final = Decimal("1e-42")
_HALVINGS: Final = 3

P = ParamSpec("P")
T = TypeVar("T")


def in_reals(function: Callable[P, T]) -> Callable[P, T]:
    """Have a function's decimals computed to 40 digits, whatever its caller's context is."""

    @wraps(function)
    def run(*args: P.args, **kwargs: P.kwargs) -> T:
        with localcontext(_CONTEXT):
            return function(*args, **kwargs)

    return run


@in_reals
def nearest(value: Decimal) -> int:
    """The nearest whole number; of two the even one."""
    # Half to even by the context; away from zero would shift sums of many roundings.
    return int(value.to_integral_value())


@in_reals
def sin(x: Decimal) -> Decimal:
    """Sine of an angle in radians, |x| up to a turn."""
    return _alternating(x, x, 1)


@in_reals
def cos(x: Decimal) -> Decimal:
    """Cosine of an angle in radians, |x| up to a turn."""
    return _alternating(Decimal(1), x, 0)


@in_reals
def tan(x: Decimal) -> Decimal:
    """Tangent of an angle in radians; not of a right angle."""
    return sin(x) / cos(x)


@in_reals
def atan(x: Decimal) -> Decimal:
    """The angle in radians, -π/2 to π/2, whose tangent is ``x``."""
    # A smaller argument makes the series shorter; atan x + atan 1/x is a right angle for x > 0.
    if abs(x) > 1:
        return (PI / 2).copy_sign(x) - atan(1 / x)
    for _ in range(_HALVINGS):  # half the angle each time, so that the series is short
        x = x / (1 + (1 + x * x).sqrt())
    return _atan_series(x) * 2**_HALVINGS


@in_reals
def asin(x: Decimal) -> Decimal:
    """The angle in radians, -π/2 to π/2, whose sine is ``x``; |x| up to 1."""
    # At ±1 the tangent is infinite: the one division by zero to keep away from.
    return (PI / 2).copy_sign(x) if abs(x) == 1 else atan(x / (1 - x * x).sqrt())


@in_reals
def acos(x: Decimal) -> Decimal:
    """The angle in radians, 0 to π, whose cosine is ``x``; |x| up to 1."""
    return PI / 2 - asin(x)


def _alternating(term: Decimal, x: Decimal, power: int) -> Decimal:
    """The series of sine and cosine from its first term on."""
    total = Decimal(0)
    # Once its terms fall, each bounds the rest of such a series: the first small one ends it.
    while abs(term) > _SMALLEST:
        total += term
        power += 2
        term *= -x * x / (power * (power - 1))
    return total


def _atan_series(x: Decimal) -> Decimal:
    total, odd, power = Decimal(0), x, 1
    while abs(odd) > _SMALLEST:
        total += odd / power
        odd, power = -odd * x * x, power + 2
    return total
