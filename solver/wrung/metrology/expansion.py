"""Which coefficient of expansion a block or a part has, and how sure it is."""

from functools import cache
from typing import Final

from msgspec import Struct

from wrung.blocks import Block
from wrung.calibrations import Calibration
from wrung.materials import USUAL_MATERIAL, material
from wrung.metrology.conditions import Part
from wrung.metrology.quantities import Quantity, exactly, normal, rectangular

UNNAMED_PART: Final = "part"

MILLIONTH: Final = 1e-6
"""The unit of coefficients of expansion, 1/K."""

ASSUMED_SHARE: Final = 0.1
"""Half-width of a coefficient whose limits are not known, as a share of it.

As for an alloy that is not known; common practice, no source. For a workpiece of steel EA-4/02 and
GUM H.1 take ±2e-6/K, which is nearly twice as much: see `expansion_of_workpiece`.
"""


class Coefficient(Struct, frozen=True, kw_only=True):
    """A coefficient of linear thermal expansion about 20 °C, 1e-6/K.

    Attributes:
        of: the material, or the certificate that states it. Blocks with the same ``of`` share the
            coefficient, and so its error.
        value: the coefficient, 1e-6/K.
        material_assumed: the block's material was not stated.
        limits_assumed: its limits are not known and were taken as `ASSUMED_SHARE` of it.
    """

    of: str
    value: Quantity
    material_assumed: bool = False
    limits_assumed: bool = False


def coefficient_of(block: Block) -> Coefficient:
    """The coefficient that the block's certificate states, else its material's.

    Blocks for which one certificate states the same figure are taken to share it.

    Raises:
        InputError: at ``/material``, the material is not known.
    """
    calibration = block.known_calibration
    if calibration.expansion is not None:
        return _stated(calibration, calibration.expansion)
    if block.material is None:
        return _assumed_of_blocks()
    return coefficient_of_material(block.material)


def _stated(calibration: Calibration, expansion: float) -> Coefficient:
    uncertainty = calibration.expansion_uncertainty
    if uncertainty is None:
        value = rectangular(expansion, ASSUMED_SHARE * abs(expansion))
    else:
        value = normal(expansion, uncertainty)
    # Figures are in the name, since one certificate may state several for several materials.
    of = f"{calibration.certificate or '?'}, {expansion:g} ({value.uncertainty:.3g})"
    return Coefficient(of=of, value=value, limits_assumed=uncertainty is None)


@cache
def _assumed_of_blocks() -> Coefficient:
    known = coefficient_of_material(USUAL_MATERIAL)
    return Coefficient(of=known.of, value=known.value, material_assumed=True)


@cache
def coefficient_of_material(name: str) -> Coefficient:
    """The coefficient of a material of the table.

    Raises:
        InputError: at ``/material``, the material is not known.
    """
    found = material(name)
    expansion = float(found.expansion)
    limits = found.expansion_limits
    half = ASSUMED_SHARE * abs(expansion) if limits is None else float(limits)
    value = rectangular(expansion, half)
    return Coefficient(of=found.id, value=value, limits_assumed=limits is None)


@cache
def expansion_of_workpiece(name: str) -> Quantity:
    """The coefficient, 1e-6/K, of a workpiece of a material of the table.

    Its alloy and treatment are less well known than those of gauge blocks: where the table has no
    limits for workpieces, the wider of those of blocks and `ASSUMED_SHARE` hold.

    Raises:
        InputError: at ``/material``, the material is not known.
    """
    found = material(name)
    expansion = float(found.expansion)
    of_blocks = max(float(found.expansion_limits or 0), ASSUMED_SHARE * abs(expansion))
    limits = found.workpiece_limits
    return rectangular(expansion, of_blocks if limits is None else float(limits))


class PartExpansion(Struct, frozen=True, kw_only=True):
    """A part's coefficient of expansion, 1e-6/K, as ``base`` + ``value``.

    Attributes:
        name: the material, or ``"part"``.
        value: its coefficient, or what it is more than that of the material it follows.
        base: coefficient of the material that it follows, else 0.
        follows: the material of the blocks whose coefficient, and its error, it shares.
        temperature_difference: its temperature less the stack's, K.
    """

    name: str
    value: Quantity
    base: float = 0.0
    follows: str | None = None
    temperature_difference: Quantity

    @property
    def total(self) -> float:
        """Best estimate of the coefficient, 1e-6/K."""
        return self.base + self.value.estimate


def expansion_of_part(part: Part) -> PartExpansion:
    """How the part grows; its own coefficient goes before its material's.

    Raises:
        InputError: at ``/material``, the material is not known.
    """
    warmer = part.temperature_difference
    if part.expansion is not None or part.material is None:
        name, value = part.material or UNNAMED_PART, part.expansion or exactly(0.0)
        return PartExpansion(name=name, value=value, temperature_difference=warmer)
    known = coefficient_of_material(part.material)
    # GUM H.1 takes the difference as the input: it is known better than either coefficient.
    if part.expansion_difference is not None:
        return PartExpansion(
            name=f"part less {known.of}",
            value=part.expansion_difference,
            base=known.value.estimate,
            follows=known.of,
            temperature_difference=warmer,
        )
    value = expansion_of_workpiece(part.material)
    return PartExpansion(name=known.of, value=value, temperature_difference=warmer)
