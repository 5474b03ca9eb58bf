"""Tapers that have a name, such as Morse 3: their rate, and the diameter at their gauge line."""

from decimal import Decimal
from functools import cache
from typing import Final, Literal

from msgspec import Struct

from wrung.lengths import Unit, parse
from wrung.real import in_reals
from wrung.tables import Checked, load

INCHES_IN_A_FOOT: Final = 12


class NamedTaper(Struct, frozen=True, kw_only=True):
    """A taper with a name.

    Attributes:
        designation: what requests call it.
        rate: rate of taper, the difference of two diameters over their distance (ISO 3040).
        gauge_diameter: diameter at the gauge line, quanta of 0.01 nm; None if it is not known.
        unit: unit that the diameter is given in.
        source: where the figures come from.
        checked: how far they were compared with print, see `wrung.tables.Checked`.
    """

    designation: str
    rate: Decimal
    gauge_diameter: int | None
    unit: Unit
    source: str
    checked: Checked


def all_tapers() -> tuple[NamedTaper, ...]:
    """Every taper known, family by family."""
    return tuple(_by_name().values())


def named_taper(designation: str) -> NamedTaper | None:
    """The taper of that name, capitals or not; None if there is none."""
    return _by_name().get(designation.casefold())


class _Size(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    size: str
    taper: str
    gauge: str | None = None


class _Family(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    name: str
    given_as: Literal["per_foot", "ratio"]
    gauge_unit: Unit
    checked: Checked
    source: str
    tapers: list[_Size]

    @in_reals
    def rate(self, size: _Size) -> Decimal:
        """The rate of one of its tapers."""
        given = Decimal(size.taper)
        return given / INCHES_IN_A_FOOT if self.given_as == "per_foot" else 1 / given


class _Tables(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    families: list[_Family]


@cache
def _by_name() -> dict[str, NamedTaper]:
    return {
        f"{family.name} {size.size}".casefold(): NamedTaper(
            designation=f"{family.name} {size.size}",
            rate=family.rate(size),
            gauge_diameter=None if size.gauge is None else parse(size.gauge, family.gauge_unit),
            unit=family.gauge_unit,
            source=family.source,
            checked=family.checked,
        )
        for family in load("tapers.toml", _Tables).families
        for size in family.tapers
    }
