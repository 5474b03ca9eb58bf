"""Tapers by name: ``GET /v1/tapers``."""

from typing import Annotated

from litestar import Response, get
from litestar.handlers import HTTPRouteHandler
from msgspec import Meta, Struct

from wrung.angles import to_degrees, to_dms
from wrung.lengths import Unit, to_text
from wrung.tables import Checked
from wrung.tapers import NamedTaper, all_tapers
from wrung.targets.taper import Taper, found_taper
from wrung_service.api.bodies import HttpRequest
from wrung_service.api.kinds.shapes import AngleOnWire
from wrung_service.api.operations import OPERATION, Operation, example
from wrung_service.api.responses import respond_table
from wrung_service.api.texts import CHECKED, DecimalText


class TaperWithName(Struct, frozen=True, kw_only=True):
    """A taper that has a name."""

    designation: Annotated[str, Meta(description="Name that targets use for it.")]
    included_angle: Annotated[AngleOnWire, Meta(description="Angle between opposite sides.")]
    half_angle: Annotated[AngleOnWire, Meta(description="Angle between a side and the axis.")]
    ratio: Annotated[DecimalText, Meta(description="The x of the taper 1:x.")]
    per_foot: Annotated[
        DecimalText,
        Meta(description="How much the diameter grows in a foot of length, in inches."),
    ]
    rate: Annotated[
        DecimalText, Meta(description="Difference of two diameters over their distance.")
    ]
    gauge_diameter: Annotated[
        DecimalText | None,
        Meta(description="Diameter at the gauge line, in `unit`, where it is known."),
    ]
    unit: Annotated[Unit, Meta(description="Unit of that diameter.")]
    source: Annotated[str, Meta(description="Where the figures come from.")]
    checked: Annotated[Checked, Meta(description=CHECKED)]


class TaperList(Struct, frozen=True, kw_only=True):
    """Every taper known by name."""

    tapers: Annotated[tuple[TaperWithName, ...], Meta(description="The tapers.")]


_LIST = Operation(
    id="listTapers",
    tag="reference data",
    summary="List the tapers that have a name",
    description="Every `designation` that a `taper` of a target may have. Short forms of the "
    "trade, such as MT 3, ISO 40 or B&S 7, are understood as well.",
    answer=TaperList,
    answer_examples={"list": example("The beginning of the list", "tapers")},
)


def taper_routes() -> list[HTTPRouteHandler]:
    """The list."""

    @get("/v1/tapers", opt={OPERATION: _LIST})
    async def list_tapers(request: HttpRequest) -> Response[bytes]:
        return respond_table(request, TaperList(tapers=tuple(map(_taper, all_tapers()))))

    return [list_tapers]


def _taper(known: NamedTaper) -> TaperWithName:
    taper = Taper(designation=known.designation)
    found = found_taper(taper.included_angle(), taper)
    gauge = known.gauge_diameter
    return TaperWithName(
        designation=known.designation,
        included_angle=_angle(found.included_angle),
        half_angle=_angle(found.half_angle),
        ratio=f"{found.ratio:f}",
        per_foot=f"{found.per_foot:f}",
        rate=f"{found.rate:f}",
        gauge_diameter=None if gauge is None else to_text(gauge, known.unit),
        unit=known.unit,
        source=known.source,
        checked=known.checked,
    )


def _angle(quanta: int) -> AngleOnWire:
    return AngleOnWire(degrees=to_degrees(quanta), dms=to_dms(quanta))
