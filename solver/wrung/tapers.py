"""Tapers that have a name, such as Morse 3: their rate, and the diameter at their gauge line."""

import re
from decimal import Decimal
from fractions import Fraction
from functools import cache
from typing import Final, Literal

from msgspec import Struct

from wrung.lengths import Unit, parse
from wrung.real import in_reals
from wrung.tables import Sourced, load

INCHES_IN_A_FOOT: Final = 12

_LEFT_OUT: Final = r"[\s#-]|\bn[or](?:\.|(?=\s*\d))"
"""What makes no difference in a name: blanks, hyphens, and the words for number."""
_HALF: Final = r"½|[.,]5\b"
"""How else the half of Morse 4 1/2 is written."""


class NamedTaper(Sourced, frozen=True, kw_only=True):
    """A taper with a name.

    Attributes:
        designation: what requests call it.
        rate: rate of taper, the difference of two diameters over their distance (ISO 3040).
        gauge_diameter: diameter at the gauge line, quanta of 0.01 nm; None if it is not known.
        unit: unit that the diameter is given in.
    """

    designation: str
    rate: Decimal
    gauge_diameter: int | None
    unit: Unit


def all_tapers() -> tuple[NamedTaper, ...]:
    """Every taper known, family by family."""
    return tuple(taper for _, taper in _tapers())


def named_taper(designation: str) -> NamedTaper | None:
    """The taper of that name or short form, capitals or not; None if there is none.

    >>> [named_taper(each).designation for each in ("MT3", "MK 3", "Morse No. 3", "ISO 40")]
    ['Morse 3', 'Morse 3', 'Morse 3', '7:24 40']
    """
    return _by_name().get(_plain(designation))


class _Size(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    size: str
    taper: str
    gauge: str | None = None


class _Family(Sourced, frozen=True, kw_only=True, forbid_unknown_fields=True):
    name: str
    also: list[str]
    given_as: Literal["per_foot", "ratio"]
    gauge_unit: Unit
    tapers: list[_Size]

    @in_reals
    def taper(self, size: _Size) -> NamedTaper:
        """One of its tapers."""
        given = Decimal(size.taper)
        return NamedTaper(
            designation=f"{self.name} {size.size}",
            rate=given / INCHES_IN_A_FOOT if self.given_as == "per_foot" else 1 / given,
            gauge_diameter=None if size.gauge is None else parse(size.gauge, self.gauge_unit),
            unit=self.gauge_unit,
            source=self.source,
            checked=self.checked,
        )

    def names(self, size: _Size) -> tuple[str, ...]:
        """What one of its tapers is called."""
        forms = (each if "{}" in each else f"{each} {{}}" for each in (self.name, *self.also))
        return tuple(form.format(size.size) for form in forms)


@cache
def _tapers() -> tuple[tuple[tuple[str, ...], NamedTaper], ...]:
    """Every taper with its names, by family and size."""
    families = load("tapers.toml", dict[Literal["families"], list[_Family]])["families"]
    # A family that stands twice keeps the place where it stands first.
    places = {family.name: place for place, family in reversed([*enumerate(families)])}
    sizes = [(family, size) for family in families for size in family.tapers]
    sizes.sort(key=lambda each: (places[each[0].name], _number(each[1])))
    return tuple((family.names(size), family.taper(size)) for family, size in sizes)


def _number(size: _Size) -> Fraction:
    """Of a size such as 4 1/2."""
    return sum((Fraction(part) for part in size.size.split()), Fraction(0))


@cache
def _by_name() -> dict[str, NamedTaper]:
    return {_plain(name): taper for names, taper in _tapers() for name in names}


def _plain(name: str) -> str:
    return re.sub(_LEFT_OUT, "", re.sub(_HALF, " 1/2", name.casefold()))
