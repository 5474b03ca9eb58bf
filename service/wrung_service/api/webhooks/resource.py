"""``/v1/sites/{site_id}/webhooks``: endpoints, their secrets, and what is sent to them."""

from datetime import timedelta
from typing import Final

from litestar import Response, delete, get, post, put
from litestar.handlers import HTTPRouteHandler

from wrung_service.api.bodies import JSON, HttpRequest, read_document
from wrung_service.api.decoding import BodyDecoder
from wrung_service.api.operations import OPERATION
from wrung_service.api.responses import respond
from wrung_service.api.shelf.asking import Crib, id_of, site_of
from wrung_service.api.shelf.ids import SITE
from wrung_service.api.shelf.paging import place_of, respond_page
from wrung_service.api.shelf.versions import respond_kept, respond_version
from wrung_service.api.webhooks.deliveries import delivery_routes
from wrung_service.api.webhooks.operations import DELETE, GET, LIST, PUT, RENEW, WEBHOOK
from wrung_service.api.webhooks.reading import read_webhook
from wrung_service.api.webhooks.shapes import (
    NewSecret,
    SecretRenewal,
    WebhookList,
    WebhookMembers,
    previous_until,
    write_webhook,
)
from wrung_service.outgoing.addresses import AllowedAddresses
from wrung_service.store.engine import Reading, Store
from wrung_service.store.pages import Page
from wrung_service.store.sites import get_site
from wrung_service.store.webhooks.endpoints import Endpoint, get_endpoint, list_endpoints
from wrung_service.usecases.webhooks.keep_endpoint import (
    keep_endpoint,
    remove_endpoint,
    renew_secret,
)

_PATH: Final = "/v1/sites/{site_id:str}/webhooks/{webhook_id:str}"


def webhook_routes(crib: Crib, allowed: AllowedAddresses) -> list[HTTPRouteHandler]:
    """Endpoints, and what is sent to each."""
    return [*_changing(crib, allowed), *_reading(crib), *delivery_routes(crib)]


def _changing(crib: Crib, allowed: AllowedAddresses) -> list[HTTPRouteHandler]:
    bodies = BodyDecoder(WebhookMembers, {}, crib.limits.max_body_bytes)
    renewals = BodyDecoder(SecretRenewal, {}, crib.limits.max_body_bytes)

    @put(_PATH, opt={OPERATION: PUT})
    async def put_webhook(request: HttpRequest) -> Response[bytes]:
        site, name = site_of(request, SITE), id_of(request, WEBHOOK)
        by, body = crib.acting(request), await read_document(request, (JSON,))

        def work(store: Store) -> tuple[Endpoint, bool]:
            wanted = read_webhook(name, bodies.decode(body), allowed)
            return keep_endpoint(store, site, wanted, by)

        kept, made = await crib.door.run(request, work)
        location = f"{crib.prefix}/v1/sites/{site}/webhooks/{name}"
        answer = write_webhook(kept, by.at, made=made)
        return respond_kept(answer, kept.version, location, made=made)

    @post(f"{_PATH}/renew-secret", status_code=200, opt={OPERATION: RENEW})
    async def renew(request: HttpRequest) -> Response[bytes]:
        site, name = site_of(request, SITE), id_of(request, WEBHOOK)
        by, body = crib.acting(request), await read_document(request, (JSON,))

        def work(store: Store) -> Endpoint:
            keep_for = timedelta(hours=renewals.decode(body).keep_hours)
            return renew_secret(store, site, name, keep_for, by)

        kept = await crib.door.run(request, work)
        answer = NewSecret(secret=kept.secret, previous_secret_until=previous_until(kept, by.at))
        response = respond(answer)
        response.headers["ETag"] = f'"{kept.version}"'
        return response

    @delete(_PATH, status_code=200, opt={OPERATION: DELETE})
    async def delete_webhook(request: HttpRequest) -> Response[bytes]:
        site, name = site_of(request, SITE), id_of(request, WEBHOOK)
        by = crib.acting(request)
        removed = await crib.door.run(request, lambda store: remove_endpoint(store, site, name, by))
        return respond(write_webhook(removed, by.at))

    return [put_webhook, renew, delete_webhook]


def _reading(crib: Crib) -> list[HTTPRouteHandler]:
    @get(_PATH, opt={OPERATION: GET})
    async def get_webhook(request: HttpRequest) -> Response[bytes]:
        site, name = site_of(request, SITE), id_of(request, WEBHOOK)

        found = await crib.door.read(
            request, lambda connection: get_endpoint(connection, site, name)
        )
        return respond_version(request, write_webhook(found, crib.clock()), found.version)

    @get("/v1/sites/{site_id:str}/webhooks", opt={OPERATION: LIST})
    async def list_webhooks(request: HttpRequest) -> Response[bytes]:
        site, place = site_of(request, SITE), place_of(request)

        def work(connection: Reading) -> Page[Endpoint]:
            get_site(connection, site)
            return list_endpoints(connection, site, place)

        page = await crib.door.read(request, work)
        now = crib.clock()
        found = tuple(write_webhook(each, now) for each in page.items)
        return respond_page(request, WebhookList(webhooks=found, next=page.last), crib.prefix)

    return [get_webhook, list_webhooks]
