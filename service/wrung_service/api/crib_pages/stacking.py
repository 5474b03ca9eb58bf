"""``/crib/{site_id}/stacks``: the page to type into, with the blocks of the site as its shelf."""

from functools import partial
from typing import Any

from litestar import Response, get, post
from litestar.handlers import HTTPRouteHandler

from wrung_service.api.bench.crib_shelf import report
from wrung_service.api.bench.question import read_question
from wrung_service.api.bench.resource import Bench
from wrung_service.api.bench.words import words_in
from wrung_service.api.bodies import HttpRequest
from wrung_service.api.crib_pages.forms import sent_form
from wrung_service.api.crib_pages.rendering import Pages
from wrung_service.api.failures import Handlers
from wrung_service.api.operations import PAGE, PAGE_SCOPE
from wrung_service.api.page_parts import usual_language
from wrung_service.api.shelf.asking import Crib, site_of
from wrung_service.api.shelf.ids import SITE

_READ = {PAGE: True, PAGE_SCOPE: "read"}
_CRIB = {PAGE: True, PAGE_SCOPE: "crib"}


def stacking(crib: Crib, pages: Pages, failures: Handlers, bench: Bench) -> list[HTTPRouteHandler]:
    """The page with its parts, and what reports a block that is not there."""
    at = "/crib/{site_id:str}/stacks"

    @get(at, opt=_READ, exception_handlers=failures)
    async def show(request: HttpRequest) -> Response[bytes]:
        return await bench.show(request, "page.html", site_of(request, SITE))

    @get(f"{at}/answer", opt=_READ, exception_handlers=failures)
    async def show_answer(request: HttpRequest) -> Response[bytes]:
        return await bench.show(request, "part.html", site_of(request, SITE))

    @get(f"{at}/more", opt=_READ, exception_handlers=failures)
    async def show_more(request: HttpRequest) -> Response[bytes]:
        return await bench.show_more(request, site_of(request, SITE))

    @get(f"{at}/cards", opt=_READ, exception_handlers=failures)
    async def print_cards(request: HttpRequest) -> Response[Any]:
        return await bench.cards(request, site_of(request, SITE))

    @post(f"{at}/reports", opt=_CRIB, status_code=303, exception_handlers=failures)
    async def keep_report(request: HttpRequest) -> Response[Any]:
        site, by, form = site_of(request, SITE), crib.acting(request), await sent_form(request)
        question = read_question(form.fields, site=site, usual=usual_language(request))
        found, reason = form.one("back"), words_in(question.language).say("not_found")
        block = found or form.one("not_there")
        work = partial(report, site=site, block=block, by=by, reason=None if found else reason)
        await crib.door.run(request, work)
        return pages.lead(f"/crib/{site}/stacks?{question.address()}")

    return [show, show_answer, show_more, print_cards, keep_report]
