"""How far a ball or a roll is pressed into what it touches: elastic contact, by Hertz.

With the force F, the radius R of which 1/R is the sum of the curvatures (that of a hollow is
negative), and 1/E* = (1 - n²)/E of the one body and the other: the contact is a circle of radius
a = (3 F R / 4 E*)^(1/3), both bodies come nearer by a²/R, and the pressure in the middle is
3 F / 2 pi a². H. Hertz, J. reine angew. Math. 92 (1882) 156; K. L. Johnson, Contact Mechanics,
chapter 4 (from memory); the same as in appendix D of the NIST Gauge Block Handbook.

A roll on a flat face touches along a line. With the force P on a unit of its length, the length 2a,
and V = (1 - n²) / (pi E) of both bodies together, they come nearer by P V (1 + ln(8 a² / P V D));
half the width of the strip is (2 P V D)^(1/2). M. J. Puttock, E. G. Thwaite, Elastic Compression of
Spheres and Cylinders at Point and Line Contact (CSIRO 1969; from memory).
"""

from collections.abc import Iterator
from decimal import Decimal
from math import ceil, inf, log, pi, sqrt
from typing import Final

from msgspec import Struct

from wrung.checked_types import typed
from wrung.errors import Fault, InputError, not_positive, require
from wrung.lengths import QUANTA
from wrung.materials import material

MODULI_KNOWN_TO: Final = 0.1
"""As a share: the moduli of a table may be off by 10 % (NIST Engineering Metrology Toolbox)."""

SMALL_CONTACT: Final = 0.1
"""The circle's radius over the ball's, up to which the formula holds."""

MOST_RATIO: Final = 0.5
"""Poisson's ratio of a body that keeps its volume; no isotropic one has more."""

_STEP: Final = 10
"""Figures are rounded to 0.1 nm: an estimate has no more digits."""

_MM: Final = QUANTA["mm"]
_MPA: Final = 1000.0


class Elasticity(Struct, frozen=True, kw_only=True):
    """What somebody states of a body; it goes before the table's figures of its material.

    Attributes:
        youngs_modulus: GPa.
        poissons_ratio: from 0 to 0.5.
    """

    youngs_modulus: float | None = None
    poissons_ratio: float | None = None


OF_TABLE: Final = Elasticity()


class LineContact(Struct, frozen=True, kw_only=True):
    """A roll on a flat face, or several; lengths in quanta of 0.01 nm.

    Attributes:
        compression: how much nearer both come.
        compression_limits: half-width of what that is known to, as moduli are known to 10 %.
    """

    compression: int
    compression_limits: int


class Contact(LineContact, frozen=True, kw_only=True):
    """A ball on another body; quanta as well.

    Attributes:
        contact_radius: of the circle on which they touch.
        largest_pressure_gpa: in the middle of it, GPa.
        small_contact: whether the circle is small enough for the formula.
    """

    contact_radius: int
    largest_pressure_gpa: float
    small_contact: bool


@typed
def ball_contact(  # noqa: PLR0913 -- two bodies and a force
    force_newtons: float,
    *,
    ball_diameter: int,
    ball_material: str,
    other_material: str,
    other_diameter: int | None = None,
    other_hollow: bool = False,
    ball_elasticity: Elasticity = OF_TABLE,
    other_elasticity: Elasticity = OF_TABLE,
) -> Contact:
    """A ball pressed onto a plane, another ball, or into a hollow.

    Args:
        force_newtons: the measuring force, N.
        ball_diameter: quanta.
        ball_material: see `wrung.materials`.
        other_material: of what it touches.
        other_diameter: of the ball or hollow that it touches, quanta; None for a plane.
        other_hollow: whether that is a hollow, such as a spherical seat.
        ball_elasticity: of the ball, before its material's.
        other_elasticity: of what it touches, likewise.

    Raises:
        InputError: force or diameters are not greater than zero, a hollow is not larger than the
            ball, a modulus or a ratio is out of range, or is neither stated nor known.
    """
    diameters = {"/ball_diameter": ball_diameter, "/other_diameter": other_diameter}
    faults = not_positive({"/force_newtons": force_newtons, **diameters})
    if other_hollow and (other_diameter is None or other_diameter <= ball_diameter):
        detail = "a hollow has a diameter, and it is larger than the ball's"
        faults.append(Fault(pointer="/other_diameter", detail=detail))
    ball = _compliance(ball_material, ball_elasticity, "/ball", faults)
    other = _compliance(other_material, other_elasticity, "/other", faults)
    require(*faults)
    across = inf if other_diameter is None else other_diameter / _MM
    curvature = 2 / (ball_diameter / _MM) + (-2 if other_hollow else 2) / across
    radius, modulus = 1 / curvature, 1 / (ball + other)
    circle = (3 * force_newtons * radius / 4 / modulus) ** (1 / 3)
    compression = circle**2 / radius
    off = compression * ((1 - MODULI_KNOWN_TO) ** (-2 / 3) - 1)
    return Contact(
        compression=round(compression * _MM / _STEP) * _STEP,
        compression_limits=ceil(off * _MM / _STEP) * _STEP,
        contact_radius=round(circle * _MM / _STEP) * _STEP,
        largest_pressure_gpa=3 * force_newtons / (2 * pi * circle**2) / _MPA,
        small_contact=circle < SMALL_CONTACT * ball_diameter / _MM / 2,
    )


@typed
def roll_contact(  # noqa: PLR0913 -- two bodies and a force
    force_newtons: float,
    *,
    roll_diameter: int,
    contact_length: int,
    roll_material: str,
    other_material: str,
    roll_elasticity: Elasticity = OF_TABLE,
    other_elasticity: Elasticity = OF_TABLE,
) -> LineContact:
    """A roll pressed onto a flat face.

    Args:
        force_newtons: the force, N.
        roll_diameter: quanta.
        contact_length: of the line on which they touch, quanta.
        roll_material: see `wrung.materials`.
        other_material: of what it touches.
        roll_elasticity: of the roll, before its material's.
        other_elasticity: of what it touches, likewise.

    Raises:
        InputError: force, diameter or length are not greater than zero, the strip of contact is
            too wide for the formula, a modulus or a ratio is out of range, or is neither stated
            nor known.
    """
    sizes = {"/roll_diameter": roll_diameter, "/contact_length": contact_length}
    faults = not_positive({"/force_newtons": force_newtons, **sizes})
    roll = _compliance(roll_material, roll_elasticity, "/roll", faults)
    other = _compliance(other_material, other_elasticity, "/other", faults)
    require(*faults)
    length, across = contact_length / _MM, roll_diameter / _MM
    pressed = force_newtons / length * (roll + other) / pi
    if sqrt(2 * pressed * across) > SMALL_CONTACT * min(across, length) / 2:
        detail = "is too large for so thin a roll or so short a line of contact"
        raise InputError.at("/force_newtons", detail)
    softer = pressed / (1 - MODULI_KNOWN_TO)
    compression = _line_compression(pressed, length, across)
    off = _line_compression(softer, length, across) - compression
    return LineContact(
        compression=round(compression * _MM / _STEP) * _STEP,
        compression_limits=ceil(off * _MM / _STEP) * _STEP,
    )


def _line_compression(pressed: float, length: float, across: float) -> float:
    """In mm; ``pressed`` is P V, and 8 a² are twice the square of the whole length."""
    return pressed * (1 + log(2 * length**2 / (pressed * across)))


def _compliance(name: str, stated: Elasticity, at: str, faults: list[Fault]) -> float:
    """(1 - n²)/E, mm²/N; what is wrong or missing goes to ``faults``."""
    found = [*_elasticity_faults(stated, at)]
    modulus, ratio = stated.youngs_modulus, stated.poissons_ratio
    if modulus is None or ratio is None:
        try:
            known = material(name)
        except InputError as error:
            found += error.all_at(f"{at}_material").faults
        else:
            modulus = _first(modulus, known.youngs_modulus)
            ratio = _first(ratio, known.poissons_ratio)
            if modulus is None or ratio is None:
                detail = f"modulus or Poisson's ratio of {known.id} are not known: state them"
                found.append(Fault(pointer=f"{at}_material", detail=detail))
    faults += found
    if found or modulus is None or ratio is None:
        return 1.0
    return (1 - ratio**2) / (modulus * _MPA)


def _first(stated: float | None, known: Decimal | None) -> float | None:
    return float(known) if stated is None and known is not None else stated


def _elasticity_faults(stated: Elasticity, at: str) -> Iterator[Fault]:
    modulus, ratio = stated.youngs_modulus, stated.poissons_ratio
    if modulus is not None and not 0 < modulus < inf:
        yield Fault(pointer=f"{at}_youngs_modulus", detail="must be greater than zero")
    if ratio is not None and not 0 <= ratio <= MOST_RATIO:
        yield Fault(pointer=f"{at}_poissons_ratio", detail="must lie between 0 and 0.5")
