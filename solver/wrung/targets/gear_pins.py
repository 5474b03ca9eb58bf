"""The tooth thickness of a spur gear, by the size over two pins; see `spur_gear.py`."""

from collections.abc import Callable, Iterator, Sequence
from decimal import Decimal
from typing import Annotated, ClassVar, Final

from msgspec import Meta
from msgspec.structs import replace

from wrung.angles import DEGREE, radians
from wrung.answers import Stack, Unmet
from wrung.errors import Fault, either, not_negative, positive, unless
from wrung.lengths import QUANTA
from wrung.measures import Angle, Deviation, Length, Margin, Ratio, Seconds
from wrung.real import PI, in_reals, nearest, tan
from wrung.targets.base import Count
from wrung.targets.contributions import SizeInput, partial_derivative, size_input, uncertainty_of
from wrung.targets.size import FoundSize, SizeResult, SizeTarget
from wrung.targets.spur_gear import SpurGear

_FEWEST: Final = 3
_MOST: Final = 1000
_FLATTEST: Final = 10 * DEGREE
_STEEPEST: Final = 35 * DEGREE
_MODULES: Final = Decimal("1.68")
_INCHES: Final = Decimal("1.728")
"""Pin diameter over the module, and times the diametral pitch: common practice, from memory."""


class GearPinsTarget(SizeTarget, frozen=True, kw_only=True, tag="gear_pins"):
    """A stack for the size over two pins in an external spur gear with involute teeth.

    In Python, lengths are in quanta of 0.01 nm, see `wrung.mm` and `wrung.inch`,
    and angles in quanta of 1e-9 seconds of arc, see `wrung.angle`.

    >>> target = GearPinsTarget(ref="pinion", number_of_teeth=24, module=mm("2"),
    ...     pin_diameter=mm("3.5"))
    >>> [to_text(each.length, "mm") for each in target.requirements()]
    ['52.951']
    """

    cautions: ClassVar[tuple[str, ...]] = ("caution.light_touch", "caution.burr")

    number_of_teeth: Annotated[Count, Meta(description="Number of teeth, even or odd.")]
    module: Annotated[Length | None, Meta(description="Module of the gear.")] = None
    diametral_pitch: Annotated[
        Ratio | None,
        Meta(description="Teeth for each inch of pitch diameter, in place of the module."),
    ] = None
    pressure_angle: Annotated[Angle, Meta(description="Pressure angle on the pitch circle.")] = (
        20 * DEGREE
    )
    tooth_thickness: Annotated[
        Length | None,
        Meta(
            description="Wanted tooth thickness along the arc of the pitch circle; left out, "
            "half the pitch, with `profile_shift` if it is given."
        ),
    ] = None
    profile_shift: Annotated[
        Ratio | None,
        Meta(
            description="Profile shift coefficient, in place of the thickness, which it makes "
            "2 x tan a modules more than half the pitch."
        ),
    ] = None
    lower_deviation: Annotated[
        Deviation | None, Meta(description="Lower limit of the thickness less the wanted one.")
    ] = None
    upper_deviation: Annotated[
        Deviation | None, Meta(description="Upper limit of the thickness less the wanted one.")
    ] = None
    pin_diameter: Annotated[
        Length | None,
        Meta(
            description="Diameter of the pins; left out, 1.68 modules, or 1.728 over the "
            "diametral pitch."
        ),
    ] = None
    outside_diameter: Annotated[
        Length | None,
        Meta(description="Diameter over the tips; left out, the standard one, shifted."),
    ] = None
    root_diameter: Annotated[
        Length | None, Meta(description="Diameter at the roots, to see that no pin touches there.")
    ] = None
    pin_uncertainty: Annotated[Margin, uncertainty_of("the pins, which are alike")] = 0
    angle_uncertainty: Annotated[Seconds, uncertainty_of("the pressure angle, in seconds")] = 0

    @property
    @in_reals
    def wanted_size(self) -> int:
        """The tooth thickness as wanted."""
        return nearest(self._gear().thickness)

    @in_reals
    def exact_length(self) -> int:
        """Size over the pins, to the nearest quantum."""
        return nearest(self._gear().over())

    @in_reals
    def size_with(self, length: int) -> int | None:
        """The tooth thickness for which that is the size over the pins."""
        found = self._gear().thickness_with(Decimal(length))
        return None if found is None else nearest(found)

    @in_reals
    def slope(self) -> Decimal:
        """Change of the tooth thickness over that of the size over the pins."""
        return self._gear().slope()

    @in_reals
    def inputs(self) -> tuple[SizeInput, ...]:
        """The pins and the pressure angle."""
        gear = self._gear()
        by_pin = -partial_derivative(SpurGear.over, gear, "pin") * gear.slope()
        by_angle = -partial_derivative(SpurGear.over, gear, "pressure") * gear.slope()
        return (
            size_input("pin_diameter", self.pin_uncertainty, by_pin),
            size_input("pressure_angle", self.angle_uncertainty, by_angle, is_angle=True),
        )

    def faults(self) -> Iterator[Fault | None]:
        """Sizes that are none, and pins that do not touch the flanks or lie too low."""
        plain = (*self._plain_faults(), *self._choice_faults())
        yield from plain if any(plain) else self._geometry_faults()

    def too_short(self) -> tuple[str, str]:
        """Cannot be: the pins stand above the tips."""
        return "pin_diameter", "leaves no size over the pins"

    @in_reals
    def results(self, stacks: Sequence[Stack], _unmet: Sequence[Unmet] = ()) -> "GearPinsResult":
        """The tooth thickness that the stack as built stands for."""
        gear = self._gear()
        return GearPinsResult(
            **self.in_common(stacks),
            tooth_thickness=self.found(stacks),
            pin_diameter=nearest(gear.pin),
            best_pin_diameter=nearest(gear.best()),
            contact_diameter=nearest(gear.contact()),
            smallest_over_pins=self._over_with(self.lower_deviation),
            largest_over_pins=self._over_with(self.upper_deviation),
        )

    @in_reals
    def _over_with(self, deviation: int | None) -> int | None:
        if deviation is None:
            return None
        gear = self._gear()
        return nearest(replace(gear, thickness=gear.thickness + deviation).over())

    def _module(self) -> Decimal:
        if self.module is not None:
            return Decimal(self.module)
        return QUANTA["in"] / (self.diametral_pitch or Decimal(1))

    @in_reals
    def _gear(self) -> SpurGear:
        module, pressure = self._module(), radians(self.pressure_angle)
        shift = 2 * (self.profile_shift or 0) * tan(pressure)
        thickness, pin = self.tooth_thickness, self.pin_diameter
        usual = (_MODULES if self.module is not None else _INCHES) * module
        return SpurGear(
            teeth=self.number_of_teeth,
            pitch_diameter=self.number_of_teeth * module,
            pressure=pressure,
            thickness=module * (PI / 2 + shift) if thickness is None else Decimal(thickness),
            pin=usual if pin is None else Decimal(pin),
        )

    @in_reals
    def _tips(self) -> Decimal:
        if self.outside_diameter is not None:
            return Decimal(self.outside_diameter)
        return self._module() * (self.number_of_teeth + 2 + 2 * (self.profile_shift or 0))

    def _plain_faults(self) -> Iterator[Fault | None]:
        yield from positive(
            self, "module", "diametral_pitch", "tooth_thickness", "pin_diameter",
            "outside_diameter", "root_diameter",
        )  # fmt: skip
        yield from not_negative(self, "pin_uncertainty", "angle_uncertainty")
        yield unless(
            _FEWEST <= self.number_of_teeth <= _MOST, "number_of_teeth", "must be from 3 to 1000"
        )
        yield unless(
            _FLATTEST <= self.pressure_angle <= _STEEPEST,
            "pressure_angle",
            "must be from 10 to 35 degrees",
        )

    def _choice_faults(self) -> Iterator[Fault | None]:
        yield either(self, "module", "diametral_pitch")
        yield unless(
            None in {self.tooth_thickness, self.profile_shift},
            "profile_shift",
            "give either this or tooth_thickness",
        )
        lower, upper = self.lower_deviation, self.upper_deviation
        yield unless(
            lower is None or upper is None or lower <= upper,
            "upper_deviation",
            "must not be below the lower deviation",
        )

    @in_reals
    def _geometry_faults(self) -> tuple[Fault, ...]:
        gear = self._gear()
        wanted = "tooth_thickness" if self.profile_shift is None else "profile_shift"
        limits = {
            member: replace(gear, thickness=gear.thickness + deviation)
            for member in ("lower_deviation", "upper_deviation")
            if (deviation := getattr(self, member)) is not None
        }
        checks: tuple[tuple[Callable[[SpurGear], str], dict[str, SpurGear]], ...] = (
            (_without_teeth, {wanted: gear}),
            (_without_teeth, limits),
            (self._unfit_pins, {"pin_diameter": gear}),
            (self._unfit_pins, limits),
        )
        for check, gears in checks:
            found = {member: check(each) for member, each in gears.items()}
            if any(found.values()):
                return tuple(
                    Fault(pointer=f"/{member}", detail=why) for member, why in found.items() if why
                )
        return ()

    def _unfit_pins(self, gear: SpurGear) -> str:
        reason = self._unfit(gear)
        return f"{reason}; give pin_diameter" if reason and self.pin_diameter is None else reason

    def _unfit(self, gear: SpurGear) -> str:
        """Why its pins cannot be measured over; nothing if they can."""
        tips, roots = self._tips(), self.root_diameter or 0
        if gear.at_contact() <= 0:
            return "the pins touch no flank above the base circle"
        if gear.contact() > tips:
            return "the pins are so thick that they lie on the tips"
        if gear.over() <= gear.over_tips(tips):
            return "the pins are so thin that they do not rise above the tips"
        return "the pins touch the roots" if gear.axes() - gear.pin <= roots else ""


class GearPinsResult(SizeResult, frozen=True, kw_only=True, tag="gear_pins"):
    """The tooth thickness of a spur gear, by two pins."""

    tooth_thickness: Annotated[
        FoundSize, Meta(description="The tooth thickness along the arc of the pitch circle.")
    ]
    pin_diameter: Annotated[Length, Meta(description="Diameter of the pins.")]
    best_pin_diameter: Annotated[
        Length, Meta(description="Diameter of pins that touch on the pitch circle.")
    ]
    contact_diameter: Annotated[
        Length, Meta(description="Diameter of the circle where the pins touch the flanks.")
    ]
    smallest_over_pins: Annotated[
        Length | None, Meta(description="Size over the pins with the lower deviation.")
    ] = None
    largest_over_pins: Annotated[
        Length | None, Meta(description="Size over the pins with the upper deviation.")
    ] = None


def _without_teeth(gear: SpurGear) -> str:
    return "" if 0 < gear.thickness < gear.pitch() else "leaves no teeth, or no spaces"
