"""``/crib``, ``/crib/{site_id}``, ``.../blocks/{block_id}``: the sites, one of them, a block."""

from functools import partial

from litestar import Response, get
from litestar.handlers import HTTPRouteHandler

from wrung_service.api.bodies import HttpRequest
from wrung_service.api.callers import current_caller
from wrung_service.api.crib_pages.asked import shift_of
from wrung_service.api.crib_pages.block_view import block_view
from wrung_service.api.crib_pages.rendering import Pages
from wrung_service.api.crib_pages.site_view import site_view
from wrung_service.api.failures import Handlers
from wrung_service.api.operations import PAGE, PAGE_SCOPE
from wrung_service.api.page_parts import language_of
from wrung_service.api.shelf.asking import Crib, id_of, site_of
from wrung_service.api.shelf.ids import BLOCK, SITE
from wrung_service.store.engine import Store
from wrung_service.store.pages import Place
from wrung_service.store.sites import Site, list_sites
from wrung_service.usecases.look_at_block import BlockSeen, look_at_block
from wrung_service.usecases.look_at_crib import CribSeen, Shift, look_at_crib

_MOST_SITES = 500
_READ = {PAGE: True, PAGE_SCOPE: "read"}


def looking(crib: Crib, pages: Pages, failures: Handlers) -> list[HTTPRouteHandler]:
    """All three pages."""

    @get("/crib", opt=_READ, exception_handlers=failures)
    async def show_sites(request: HttpRequest) -> Response[bytes]:
        caller = current_caller()

        def work(store: Store) -> tuple[Site, ...]:
            with store.reading() as connection:
                return list_sites(connection, Place(limit=_MOST_SITES), caller.sites).items

        return pages.show(request, "sites.html", sites=await crib.door.run(request, work))

    @get("/crib/{site_id:str}", opt=_READ, exception_handlers=failures)
    async def show_site(request: HttpRequest) -> Response[bytes]:
        site, now = site_of(request, SITE), crib.clock()
        chosen = request.query_params.get("set")

        def shift_in(zone: str) -> Shift:
            return shift_of(request, zone, now).span

        seen: CribSeen = await crib.door.run(
            request,
            partial(look_at_crib, site=site, chosen=chosen, shift_in=shift_in, now=now),
        )
        shift = shift_of(request, seen.site.time_zone, now)
        view = site_view(seen, shift, now, pages.said(request), language_of(request))
        may_change = "crib" in current_caller().scopes
        return pages.show(request, "site.html", view=view, may_change=may_change)

    @get("/crib/{site_id:str}/blocks/{block_id:path}", opt=_READ, exception_handlers=failures)
    async def show_block(request: HttpRequest) -> Response[bytes]:
        site, name, now = site_of(request, SITE), id_of(request, BLOCK), crib.clock()
        seen: BlockSeen = await crib.door.run(
            request, partial(look_at_block, site=site, name=name, now=now)
        )
        view = block_view(seen, now, pages.said(request), language_of(request))
        may_change = "crib" in current_caller().scopes
        return pages.show(request, "block.html", view=view, may_change=may_change)

    return [show_sites, show_site, show_block]
