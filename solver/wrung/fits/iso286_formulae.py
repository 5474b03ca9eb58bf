"""The formulae of ISO 286-1: standard tolerances and fundamental deviations of a range of sizes.

Formulae: Narayana, Kannaiah, Venkata Reddy, Machine Drawing, table 15.4 (p. 222); multiples of the
tolerance unit below IT6, and m, n, p over 500 mm, from memory, as are the steps of rounding. Tests
hold what comes of them to every printed figure.
"""

from collections.abc import Callable
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction
from typing import Final

from msgspec import Struct

from wrung.real import in_reals

_LARGE: Final = 500
"""Over this size, in mm, the standard has formulae and roundings of their own."""
_LARGEST: Final = 3150
_FIRST: Final = 1
"""The range of sizes up to 3 mm is taken from 1 mm on."""

# Pairs of: up to which value, in µm, and to which multiple of a µm it is rounded.
_TOLERANCES: Final = ((100, 1), (200, 5), (500, 10))
_A_TO_C: Final = ((500, 10), (1000, 20), (2000, 50))
_CD_TO_H: Final = ((45, 1), (60, 2), (200, 5), (500, 10))
_K_TO_ZC: Final = ((100, 1), (300, 2), (600, 5), (800, 10), (1000, 20), (2000, 50), (5000, 100))
_LARGE_SIZES: Final = ((60, 1), (100, 2), (200, 5), (500, 10), (1000, 20), (2000, 50), (5000, 100))


class SizeRange(Struct, frozen=True):
    """A range of nominal sizes: over ``over``, up to and including ``up_to``, in mm."""

    over: int
    up_to: int

    @property
    def mean(self) -> Decimal:
        """Its geometric mean, the D of the formulae; under `in_reals`."""
        return (Decimal(self.over or _FIRST) * self.up_to).sqrt()


Figures = Callable[[str, SizeRange], Decimal]
"""A figure that is known by now, in µm: of a grade such as ``"IT7"``, or of a letter."""


class _Formula(Struct, frozen=True, kw_only=True):
    """``constant`` + figure ``plus`` - figure ``less`` + ``factor`` times D to ``exponent``."""

    up_to: int = _LARGEST
    constant: str = "0"
    plus: str | None = None
    less: str | None = None
    factor: str = "0"
    exponent: str = "1"

    def value(self, sizes: SizeRange, figures: Figures) -> Decimal:
        power = Fraction(self.exponent)
        exponent = Decimal(power.numerator) / power.denominator
        total = Decimal(self.constant) + Decimal(self.factor) * sizes.mean**exponent
        if self.plus:
            total += figures(self.plus, sizes)
        return total - figures(self.less, sizes) if self.less else total


def _power(factor: str, exponent: str, up_to: int = _LARGEST) -> _Formula:
    return _Formula(factor=factor, exponent=exponent, up_to=up_to)


def _line(constant: str, factor: str, up_to: int = _LARGEST) -> _Formula:
    return _Formula(constant=constant, factor=factor, up_to=up_to)


def _above(grade: str, factor: str) -> tuple[_Formula, ...]:
    return (_Formula(plus=grade, factor=factor),)


_DEVIATIONS: Final[dict[str, tuple[_Formula, ...]]] = {
    "a": (_line("265", "1.3", 120), _line("0", "3.5")),
    "b": (_line("140", "0.85", 160), _line("0", "1.8")),
    "c": (_power("52", "0.2", 40), _line("95", "0.8")),
    "d": (_power("16", "0.44"),),
    "e": (_power("11", "0.41"),),
    "f": (_power("5.5", "0.41"),),
    "g": (_power("2.5", "0.34"),),
    "h": (_line("0", "0"),),
    "k": (_power("0.6", "1/3", _LARGE), _line("0", "0")),
    "m": (_Formula(plus="IT7", less="IT6", up_to=_LARGE), _line("12.6", "0.024")),
    "n": (_power("5", "0.34", _LARGE), _line("21", "0.04")),
    "p": (_line("37.8", "0.072"),),
    "s": _above("IT7", "0.4"),
    "t": _above("IT7", "0.63"),
    "u": _above("IT7", "1"),
    "v": _above("IT7", "1.25"),
    "x": _above("IT7", "1.6"),
    "y": _above("IT7", "2"),
    "z": _above("IT7", "2.5"),
    "za": _above("IT8", "3.15"),
    "zb": _above("IT9", "4"),
    "zc": _above("IT10", "5"),
}
"""How far the tolerance zone is from the nominal size; the first formula for a size counts."""
_MEANS: Final = {"cd": ("c", "d"), "ef": ("e", "f"), "fg": ("f", "g"), "r": ("p", "s")}
"""Letters that are the geometric mean of two others."""
_UNITS: Final = {
    "IT1": "2",
    "IT2": "2.7",
    "IT3": "3.7",
    "IT4": "5",
    "IT5": "7",
    "IT6": "10",
    "IT7": "16",
    "IT8": "25",
    "IT9": "40",
    "IT10": "64",
    "IT11": "100",
}
"""Standard tolerances as multiples of the tolerance unit; finer than IT5 over 500 mm only."""


@in_reals
def by_formula(name: str, sizes: SizeRange, figures: Figures) -> int:
    """A standard tolerance, or how far a letter's zone is from the nominal size, in whole µm.

    Args:
        name: a grade such as ``"IT7"``, or a letter as shafts have it.
        sizes: the range of sizes.
        figures: the figures that it rests on.
    """
    value, steps = _exact(name, sizes, figures), _steps(name, sizes)
    step = next(step for largest, step in steps if value <= largest)
    return int((value / step).quantize(Decimal(1), ROUND_HALF_UP)) * step


def _exact(name: str, sizes: SizeRange, figures: Figures) -> Decimal:
    if name in _UNITS:
        return Decimal(_UNITS[name]) * _unit(sizes)
    if name in _MEANS:
        one, other = (figures(each, sizes) for each in _MEANS[name])
        return (one * other).sqrt()
    formula = next(each for each in _DEVIATIONS[name] if sizes.up_to <= each.up_to)
    return formula.value(sizes, figures)


def _unit(sizes: SizeRange) -> Decimal:
    """The tolerance unit: i up to 500 mm, I over it."""
    mean = sizes.mean
    if sizes.up_to > _LARGE:
        return Decimal("0.004") * mean + Decimal("2.1")
    return Decimal("0.45") * mean ** (Decimal(1) / 3) + Decimal("0.001") * mean


def _steps(name: str, sizes: SizeRange) -> tuple[tuple[int, int], ...]:
    if sizes.up_to > _LARGE:
        return _LARGE_SIZES
    if name in _UNITS:
        return _TOLERANCES
    if name in {"a", "b", "c"}:
        return _A_TO_C
    return _CD_TO_H if name <= "h" else _K_TO_ZC
