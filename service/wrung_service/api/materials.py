"""What blocks are made of: ``GET /v1/materials``."""

from decimal import Decimal
from typing import Annotated

from litestar import Response, get
from litestar.handlers import HTTPRouteHandler
from msgspec import Meta, Struct

from wrung.materials import Material, all_materials
from wrung.tables import Checked
from wrung_service.api.bodies import HttpRequest
from wrung_service.api.operations import OPERATION, Operation, example
from wrung_service.api.responses import respond_table
from wrung_service.api.texts import CHECKED, DecimalText


class MaterialOfBlocks(Struct, frozen=True, kw_only=True):
    """A material; figures that are not known are null."""

    id: Annotated[str, Meta(description="Name that blocks and sets use for it.")]
    name: Annotated[str, Meta(description="A description.")]
    expansion: Annotated[
        DecimalText,
        Meta(description="Coefficient of linear thermal expansion about 20 °C, 1e-6/K."),
    ]
    expansion_limits: Annotated[
        DecimalText | None, Meta(description="Half-width of the interval it lies in, 1e-6/K.")
    ]
    workpiece_limits: Annotated[
        DecimalText | None,
        Meta(
            description="The same for a workpiece, whose alloy is less well known than a block's; "
            "if null, the wider of that interval and a tenth of the coefficient holds."
        ),
    ]
    youngs_modulus: Annotated[DecimalText | None, Meta(description="Young's modulus, GPa.")]
    poissons_ratio: Annotated[DecimalText | None, Meta(description="Poisson's ratio.")]
    density: Annotated[DecimalText | None, Meta(description="Density, kg/m³.")]
    conductivity: Annotated[DecimalText | None, Meta(description="Thermal conductivity, W/(m K).")]
    specific_heat: Annotated[DecimalText | None, Meta(description="Specific heat, J/(kg K).")]
    source: Annotated[str, Meta(description="Where the figures come from.")]
    checked: Annotated[Checked, Meta(description=CHECKED)]


class MaterialList(Struct, frozen=True, kw_only=True):
    """Every material known."""

    materials: Annotated[tuple[MaterialOfBlocks, ...], Meta(description="The materials.")]


_LIST = Operation(
    id="listMaterials",
    tag="reference data",
    summary="List the materials",
    description="Every material that a block, a set or a part may name.",
    answer=MaterialList,
    answer_examples={"list": example("The beginning of the list", "materials")},
)


def material_routes() -> list[HTTPRouteHandler]:
    """The list."""

    @get("/v1/materials", opt={OPERATION: _LIST})
    async def list_materials(request: HttpRequest) -> Response[bytes]:
        materials = tuple(_material(known) for known in all_materials())
        return respond_table(request, MaterialList(materials=materials))

    return [list_materials]


def _material(known: Material) -> MaterialOfBlocks:
    return MaterialOfBlocks(
        id=known.id,
        name=known.name,
        expansion=f"{known.expansion:f}",
        expansion_limits=_text(known.expansion_limits),
        workpiece_limits=_text(known.workpiece_limits),
        youngs_modulus=_text(known.youngs_modulus),
        poissons_ratio=_text(known.poissons_ratio),
        density=_text(known.density),
        conductivity=_text(known.conductivity),
        specific_heat=_text(known.specific_heat),
        source=known.source,
        checked=known.checked,
    )


def _text(figure: Decimal | None) -> str | None:
    # `str` of a Decimal may have an exponent; decimal text has none.
    return None if figure is None else f"{figure:f}"
