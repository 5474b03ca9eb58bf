"""An external spur gear with involute teeth, and the size over two pins in it.

With z teeth, the pressure angle a on the pitch circle of diameter D, the tooth thickness t there,
along the arc, and pins of diameter d in opposite spaces, the axis of a pin lies where an involute
of the same base circle has the pressure angle p,

    inv p = t/D + inv a + d/(D cos a) - π/z, with inv x = tan x - x,

at the diameter D cos a / cos p. The size over the pins is that plus d where z is even; where it is
odd, spaces do not lie opposite, and the axes are nearer by the factor cos(90°/z). Textbooks and
handbooks of gears have the same. It is exact for involute flanks: a pin touches them at the
pressure angle whose tangent is tan p - d/(D cos a). The force of measuring, which flattens pins and
flanks, is not corrected.
"""

from decimal import Decimal
from typing import Final

from msgspec import Struct

from wrung.real import PI, atan, cos, tan

_ROUNDS: Final = 60
_NEAR: Final = Decimal("1e-36")


class SpurGear(Struct, frozen=True, kw_only=True):
    """A gear with its pins; lengths in quanta, the pressure angle in radians."""

    teeth: int
    pitch_diameter: Decimal
    pressure: Decimal
    thickness: Decimal
    pin: Decimal

    def pitch(self) -> Decimal:
        """Length of a tooth and a space along the arc of the pitch circle."""
        return PI * self.pitch_diameter / self.teeth

    def base(self) -> Decimal:
        """Diameter of the base circle."""
        return self.pitch_diameter * cos(self.pressure)

    def involute(self) -> Decimal:
        """The involute function of the pressure angle at the axis of a pin."""
        thickness = self.thickness / self.pitch_diameter
        return thickness + _involute(self.pressure) + self.pin / self.base() - PI / self.teeth

    def at_axis(self) -> Decimal:
        """Tangent of the pressure angle there; 0 where there is no such angle."""
        wanted = self.involute()
        return _tangent(wanted) if wanted > 0 else Decimal(0)

    def axes(self) -> Decimal:
        """Diameter of the circle that the axes of the pins lie on."""
        return self.base() * _secant(self.at_axis())

    def opposite(self) -> Decimal:
        """Distance of the axes over that diameter."""
        return Decimal(1) if self.teeth % 2 == 0 else cos(PI / (2 * self.teeth))

    def over(self) -> Decimal:
        """Size over the pins."""
        return self.axes() * self.opposite() + self.pin

    def over_tips(self, outside: Decimal) -> Decimal:
        """Size over the tips, which lie at a diameter, between flat faces across the pins."""
        # The middle of the nearest tooth is half a pitch from a space, and where spaces do not lie
        # opposite, the faces have turned half of that towards it.
        off = PI / (self.teeth if self.teeth % 2 == 0 else 2 * self.teeth)
        return outside * cos(max(off - self.half_tip(outside), Decimal(0)))

    def half_tip(self, outside: Decimal) -> Decimal:
        """Half the angle that a tooth takes up at a diameter; 0 where it has come to a point."""
        square = max((outside / self.base()) ** 2 - 1, Decimal(0)).sqrt()
        wide = self.thickness / self.pitch_diameter + _involute(self.pressure)
        return max(wide - (square - atan(square)), Decimal(0))

    def at_contact(self) -> Decimal:
        """Tangent of the pressure angle where a pin touches; negative inside the base circle."""
        return self.at_axis() - self.pin / self.base()

    def contact(self) -> Decimal:
        """Diameter of the circle where the pins touch."""
        return self.base() * _secant(self.at_contact())

    def slope(self) -> Decimal:
        """Change of the thickness over that of the size over the pins."""
        tangent = self.at_axis()
        return tangent / _secant(tangent) / cos(self.pressure) / self.opposite()

    def thickness_with(self, over: Decimal) -> Decimal | None:
        """The thickness with another size over the pins; None where there is none."""
        secant = (over - self.pin) / self.opposite() / self.base()
        if secant <= 1:
            return None
        tangent = (secant * secant - 1).sqrt()
        off = tangent - atan(tangent) - self.involute()
        found = self.thickness + off * self.pitch_diameter
        return found if 0 < found < self.pitch() else None

    def best(self) -> Decimal:
        """Diameter of pins that touch on the pitch circle."""
        axis = self.pressure + PI / self.teeth - self.thickness / self.pitch_diameter
        return self.base() * (tan(axis) - tan(self.pressure))


def _involute(angle: Decimal) -> Decimal:
    return tan(angle) - angle


def _secant(tangent: Decimal) -> Decimal:
    return (1 + tangent * tangent).sqrt()


def _tangent(involute: Decimal) -> Decimal:
    """Tangent u of the angle of an involute function y > 0: u - atan u = y."""
    # As the function bends up and atan u < π/2, Newton's steps come down to the root from here.
    tangent = involute + PI / 2
    for _ in range(_ROUNDS):
        square = tangent * tangent
        off = (tangent - atan(tangent) - involute) * (1 + square) / square
        tangent -= off
        if abs(off) < _NEAR * tangent:
            break
    return tangent
