"""Which coefficient of expansion a block or a part has, and how sure it is."""

from functools import cache
from typing import Final

from msgspec import Struct

from wrung.blocks import Block
from wrung.calibrations import Calibration
from wrung.materials import USUAL_MATERIAL, material
from wrung.metrology.quantities import Quantity, normal, rectangular

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
