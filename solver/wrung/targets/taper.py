"""A taper, in any of the ways in which it is given: name, ratio 1:x, inches in a foot, rate.

With C the rate of taper (the difference of two diameters over their distance), the included angle
is 2 atan(C / 2), and C = 1/x (ISO 3040).
"""

from collections.abc import Iterator
from decimal import Decimal
from typing import Annotated, Final

from msgspec import Meta, Struct

from wrung.angles import from_radians, radians
from wrung.checked_types import CheckedStruct
from wrung.errors import Fault, positive, unless
from wrung.measures import Angle, Length, Ratio
from wrung.names import or_nearest
from wrung.real import atan, in_reals, tan
from wrung.tables import Checked
from wrung.tapers import INCHES_IN_A_FOOT, NamedTaper, all_tapers, named_taper
from wrung.targets.base import Name
from wrung.texts import Phrase, figure, phrase

_SHOWN: Final = Decimal("0.000001")
_REMARKS: Final = {"partly": "designation.checked_partly", "no": "designation.from_memory"}


class Taper(CheckedStruct, frozen=True, kw_only=True):
    """A taper by one of its members; the others are left out."""

    designation: Annotated[
        Name | None,
        Meta(
            description="Its name: Morse, metric, 7:24, Brown & Sharpe, Jarno or HSK with a "
            "number, see `GET /v1/tapers`, or its short form, such as MT 3, MK 3, ISO 40, B&S 7.",
            examples=["Morse 3"],
        ),
    ] = None
    ratio: Annotated[Ratio | None, Meta(description="The x of a taper 1:x, such as 20.")] = None
    per_foot: Annotated[
        Ratio | None,
        Meta(description="How much the diameter grows in a foot of length, in inches."),
    ] = None
    rate: Annotated[
        Ratio | None,
        Meta(description="Difference of two diameters over their distance, such as 0.05."),
    ] = None

    @property
    def named(self) -> NamedTaper | None:
        """The taper of its designation; None without one, or where none is called so."""
        return None if self.designation is None else named_taper(self.designation)

    def faults(self, at: str) -> Iterator[Fault | None]:
        """What is wrong with it; ``at`` is its pointer."""
        given = [each for each in self.__struct_fields__ if getattr(self, each) is not None]
        if len(given) != 1:
            yield Fault(pointer=at, detail="give one of designation, ratio, per_foot and rate")
        yield from positive(self, "ratio", "per_foot", "rate", at=at)
        name = self.designation
        if name is not None and self.named is None:
            meant = or_nearest(name, [each.designation for each in all_tapers()])
            detail = f"no taper {name[:40]!r} is known{meant}"
            yield Fault(pointer=f"{at}/designation", detail=detail)

    @in_reals
    def exact_rate(self) -> Decimal:
        """Its rate, of whichever member it is given by."""
        if (named := self.named) is not None:
            return named.rate
        if self.per_foot is not None:
            return self.per_foot / INCHES_IN_A_FOOT
        return 1 / self.ratio if self.ratio is not None else self.rate or Decimal(0)

    @in_reals
    def included_angle(self) -> int:
        """The angle between opposite sides, quanta."""
        return from_radians(2 * atan(self.exact_rate() / 2))


class FoundTaper(Struct, frozen=True, kw_only=True):
    """A taper, in every way in which it is given."""

    designation: Annotated[str | None, Meta(description="Its name, if it was asked by it.")]
    included_angle: Annotated[Angle, Meta(description="Angle between opposite sides.")]
    half_angle: Annotated[Angle, Meta(description="Angle between a side and the axis.")]
    ratio: Annotated[Ratio, Meta(description="The x of the taper 1:x.")]
    per_foot: Annotated[
        Ratio, Meta(description="How much the diameter grows in a foot of length, in inches.")
    ]
    rate: Annotated[Ratio, Meta(description="Difference of two diameters over their distance.")]
    gauge_diameter: Annotated[
        Length | None, Meta(description="Diameter at the gauge line, where it is known.")
    ] = None
    checked: Annotated[
        Checked | None, Meta(description="How far the figures of a name were compared with print.")
    ] = None


def taper_faults(angle: int | None, taper: Taper | None, member: str) -> Iterator[Fault | None]:
    """What is wrong with a taper that is given by an angle or otherwise."""
    yield unless((angle is None) != (taper is None), member, "give either this or taper")
    if taper is not None:
        yield from taper.faults("/taper")


def angle_member(taper: Taper | None, member: str) -> str:
    """The member that the angle came from: itself, or the taper."""
    return member if taper is None else "taper"


@in_reals
def found_taper(angle: int, taper: Taper | None) -> FoundTaper:
    """The taper of an included angle, or the one that was given."""
    rate = 2 * tan(radians(angle) / 2) if taper is None else taper.exact_rate()
    named = taper.named if taper else None
    return FoundTaper(
        designation=named.designation if named else None,
        included_angle=angle,
        half_angle=angle // 2,
        ratio=(1 / rate).quantize(_SHOWN),
        per_foot=(INCHES_IN_A_FOOT * rate).quantize(_SHOWN),
        rate=rate.quantize(_SHOWN),
        gauge_diameter=named.gauge_diameter if named else None,
        checked=named.checked if named else None,
    )


def taper_remarks(taper: Taper | None) -> tuple[Phrase, ...]:
    """A remark where the figures of a name were not compared with a printed standard."""
    named = taper.named if taper else None
    key = _REMARKS.get(named.checked) if named else None
    if named is None or key is None:
        return ()
    return (phrase(key, figure("designation", named.designation)),)
