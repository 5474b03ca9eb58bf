"""The formulae of ISO 286-1: standard tolerances and fundamental deviations of a range of sizes.

`data/iso286_formulae.toml` has most of them, with their source; the steps of rounding are from
memory. Tests hold what comes of them to every printed figure.
"""

from collections.abc import Callable
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction
from functools import cache
from typing import Final

from msgspec import Struct

from wrung.real import in_reals
from wrung.tables import load

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


class _Formula(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
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


class _Formulae(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    source: str
    units: dict[str, str]
    means: dict[str, tuple[str, str]]
    letters: dict[str, list[_Formula]]


@cache
def _formulae() -> _Formulae:
    return load("iso286_formulae.toml", _Formulae)


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
    known = _formulae()
    if name in known.units:
        return Decimal(known.units[name]) * _unit(sizes)
    if name in known.means:
        one, other = (figures(each, sizes) for each in known.means[name])
        return (one * other).sqrt()
    formula = next(each for each in known.letters[name] if sizes.up_to <= each.up_to)
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
    if name in _formulae().units:
        return _TOLERANCES
    if name in {"a", "b", "c"}:
        return _A_TO_C
    return _CD_TO_H if name <= "h" else _K_TO_ZC
