"""``/v1/plans/{plan_id}/drawing``: the stacks of a plan as they stand."""

from typing import Final

from litestar import Response, get
from litestar.handlers import HTTPRouteHandler
from litestar.params import FromPath
from msgspec import json

from wrung_service.api.bodies import HttpRequest
from wrung_service.api.operations import OPERATION
from wrung_service.api.plans.operations import DRAWING
from wrung_service.api.plans.work import seen_plan
from wrung_service.api.records.drawing import SVG, as_svg
from wrung_service.api.records.shape import StackRecord
from wrung_service.api.responses import ASK_EACH_TIME, respond_kept
from wrung_service.api.storing import StoreDoor

_DECODER: Final = json.Decoder(StackRecord)


def drawing_routes(door: StoreDoor) -> list[HTTPRouteHandler]:
    """The one resource."""

    @get("/v1/plans/{plan_id:str}/drawing", opt={OPERATION: DRAWING})
    async def draw_plan(request: HttpRequest, plan_id: FromPath[str]) -> Response[bytes]:
        drawing = await door.run(
            request, lambda store: as_svg(_DECODER.decode(seen_plan(store, plan_id).record))
        )
        return respond_kept(request, drawing, media_type=SVG, keep=ASK_EACH_TIME)

    return [draw_plan]
