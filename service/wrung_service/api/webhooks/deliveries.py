"""What is sent to an endpoint: the log, one message, a test, and once more."""

from typing import Final, get_args

from litestar import Response, get, post
from litestar.handlers import HTTPRouteHandler

from wrung_service.api.bodies import HttpRequest
from wrung_service.api.operations import OPERATION
from wrung_service.api.responses import respond
from wrung_service.api.shelf.asking import Crib, id_of, site_of
from wrung_service.api.shelf.filters import chosen_in
from wrung_service.api.shelf.ids import SITE
from wrung_service.api.shelf.paging import numbered_place_of, respond_page
from wrung_service.api.webhooks.operations import (
    DELIVERIES,
    DELIVERY,
    ONE,
    RESEND,
    TEST,
    WEBHOOK,
)
from wrung_service.api.webhooks.shapes import DeliveryList, write_delivery, write_details
from wrung_service.store.engine import Reading
from wrung_service.store.pages import Page
from wrung_service.store.webhooks.deliveries import (
    Delivery,
    DeliveryState,
    get_delivery,
    list_deliveries,
)
from wrung_service.store.webhooks.endpoints import get_endpoint
from wrung_service.usecases.webhooks.ask_to_send import resend, send_test

_WEBHOOK: Final = "/v1/sites/{site_id:str}/webhooks/{webhook_id:str}"
_LIST: Final = f"{_WEBHOOK}/deliveries"
_ONE: Final = f"{_LIST}/{{delivery_id:str}}"


def delivery_routes(crib: Crib) -> list[HTTPRouteHandler]:
    """Reading, testing and sending again."""
    return [*_reading(crib), *_asking(crib)]


def _reading(crib: Crib) -> list[HTTPRouteHandler]:
    @get(_LIST, opt={OPERATION: DELIVERIES})
    async def deliveries(request: HttpRequest) -> Response[bytes]:
        site, name = site_of(request, SITE), id_of(request, WEBHOOK)
        place = numbered_place_of(request)
        state = chosen_in(request, "state", get_args(DeliveryState))

        def work(connection: Reading) -> Page[Delivery]:
            get_endpoint(connection, site, name)
            return list_deliveries(connection, site, name, state, place)

        page = await crib.door.read(request, work)
        found = tuple(write_delivery(each) for each in page.items)
        return respond_page(request, DeliveryList(deliveries=found, next=page.last), crib.prefix)

    @get(_ONE, opt={OPERATION: ONE})
    async def one(request: HttpRequest) -> Response[bytes]:
        site, name = site_of(request, SITE), id_of(request, WEBHOOK)
        message = id_of(request, DELIVERY)

        return respond(
            write_details(
                await crib.door.read(
                    request, lambda connection: get_delivery(connection, site, name, message)
                )
            )
        )

    return [deliveries, one]


def _asking(crib: Crib) -> list[HTTPRouteHandler]:
    @post(f"{_WEBHOOK}/test", status_code=201, opt={OPERATION: TEST})
    async def test(request: HttpRequest) -> Response[bytes]:
        site, name, now = site_of(request, SITE), id_of(request, WEBHOOK), crib.clock()
        made = await crib.door.run(request, lambda store: send_test(store, site, name, now))
        response = respond(write_delivery(made))
        response.status_code = 201
        place = f"{crib.prefix}/v1/sites/{site}/webhooks/{name}/deliveries/{made.message_id}"
        response.headers["Location"] = place
        return response

    @post(f"{_ONE}/resend", status_code=200, opt={OPERATION: RESEND})
    async def again(request: HttpRequest) -> Response[bytes]:
        site, name = site_of(request, SITE), id_of(request, WEBHOOK)
        message, now = id_of(request, DELIVERY), crib.clock()
        kept = await crib.door.run(request, lambda store: resend(store, site, name, message, now))
        return respond(write_delivery(kept))

    return [test, again]
