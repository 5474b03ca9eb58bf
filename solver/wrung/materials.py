"""Materials of blocks and parts: how they grow with temperature, and how stiff they are."""

from decimal import Decimal
from functools import cache
from typing import Final, Literal

from wrung.checked_types import typed
from wrung.errors import Fault, InputError
from wrung.names import named
from wrung.tables import Sourced, load

USUAL_MATERIAL: Final = "steel"
"""What blocks and parts are taken to be made of where nothing is said: most sets are of steel."""


class Material(Sourced, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A material; None where a figure is not known.

    Attributes:
        id: what blocks and sets call it.
        name: what it is, in words.
        expansion: coefficient of linear thermal expansion about 20 °C, 1e-6/K.
        expansion_limits: half-width of the interval it lies in, 1e-6/K (rectangular distribution).
        workpiece_limits: the same for a workpiece, whose alloy is less well known than a block's.
        youngs_modulus: Young's modulus, GPa.
        poissons_ratio: Poisson's ratio.
        density: kg/m³.
        conductivity: thermal conductivity, W/(m K).
        specific_heat: J/(kg K).
    """

    id: str
    name: str
    expansion: Decimal
    expansion_limits: Decimal | None = None
    workpiece_limits: Decimal | None = None
    youngs_modulus: Decimal | None = None
    poissons_ratio: Decimal | None = None
    density: Decimal | None = None
    conductivity: Decimal | None = None
    specific_heat: Decimal | None = None

    @property
    def expansion_uncertainty(self) -> Decimal | None:
        """Standard uncertainty of the expansion coefficient, 1e-6/K: the half-width over √3."""
        return None if self.expansion_limits is None else self.expansion_limits / Decimal(3).sqrt()


def all_materials() -> tuple[Material, ...]:
    """Every material known."""
    return tuple(_materials().values())


@typed
def material(material_id: str) -> Material:
    """The material of that id.

    Raises:
        InputError: at ``/material``, there is none.
    """
    return named(_materials(), material_id, "material", "/material")


def material_fault(material_id: str | None, pointer: str) -> Fault | None:
    """What is wrong with a material that may be named at that place."""
    try:
        if material_id is not None:
            material(material_id)
    except InputError as error:
        return error.all_at(pointer).faults[0]
    return None


@cache
def _materials() -> dict[str, Material]:
    table = load("materials.toml", dict[Literal["materials"], list[Material]])
    return {material.id: material for material in table["materials"]}
