"""What people do on pages of the crib: blocks come back, are found, or are not fit for use."""

from typing import Any
from urllib.parse import quote, urlencode

from litestar import Response, post
from litestar.handlers import HTTPRouteHandler

from wrung_service.api.bodies import HttpRequest
from wrung_service.api.crib_pages.forms import Form, as_body, sent_form
from wrung_service.api.crib_pages.rendering import Pages
from wrung_service.api.failures import Handlers
from wrung_service.api.loans.shapes import BlockReturn, ConditionOfBlocks
from wrung_service.api.operations import PAGE, PAGE_SCOPE
from wrung_service.api.shelf.asking import Crib, site_of
from wrung_service.api.shelf.ids import SITE
from wrung_service.store.engine import Store
from wrung_service.usecases.loans.take_back import Return, take_back
from wrung_service.usecases.shelf.conditions import Changed, ConditionChange, change_conditions

_CRIB = {PAGE: True, PAGE_SCOPE: "crib"}


def changing(crib: Crib, pages: Pages, failures: Handlers) -> list[HTTPRouteHandler]:
    """Both forms; each leads back to where it was sent from."""

    @post("/crib/{site_id:str}/returns", opt=_CRIB, status_code=303, exception_handlers=failures)
    async def give_back(request: HttpRequest) -> Response[Any]:
        site, by, form = site_of(request, SITE), crib.acting(request), await sent_form(request)
        sent = as_body({"blocks": [{"id": each} for each in form.all("block")]}, BlockReturn)
        wanted = [Return(block=name) for name in dict.fromkeys(each.id for each in sent.blocks)]

        def work(store: Store) -> Changed:
            return take_back(store, site, wanted, by)

        await crib.door.run(request, work)
        return pages.lead(_back(site, form))

    @post(
        "/crib/{site_id:str}/condition-changes",
        opt=_CRIB,
        status_code=303,
        exception_handlers=failures,
    )
    async def change(request: HttpRequest) -> Response[Any]:
        site, by, form = site_of(request, SITE), crib.acting(request), await sent_form(request)
        members = {"blocks": form.all("block"), "condition": form.one("condition")}
        sent = as_body({**members, "reason": form.one("reason").strip() or None}, ConditionOfBlocks)
        wanted = [
            ConditionChange(block=each, condition=sent.condition, reason=sent.reason)
            for each in dict.fromkeys(sent.blocks)
        ]

        def work(store: Store) -> Changed:
            return change_conditions(store, site, wanted, by)

        await crib.door.run(request, work)
        return pages.lead(_back(site, form))

    return [give_back, change]


def _back(site: str, form: Form) -> str:
    """To the set that was looked into, or to the block that was."""
    if form.one("page") == "block":
        return f"/crib/{site}/blocks/{quote(form.all('block')[0])}"
    chosen = [("set", form.one("set"))] if form.one("set") else []
    return f"/crib/{site}?{urlencode(chosen)}" if chosen else f"/crib/{site}"
