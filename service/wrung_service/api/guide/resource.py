"""``/guide/`` and what is under it."""

from typing import Any, Final

from litestar import Response, get
from litestar.handlers import HTTPRouteHandler
from litestar.params import FromPath
from litestar.response import Redirect

from wrung_service.api.bodies import HTML, HttpRequest, wants_page
from wrung_service.api.guide import pages
from wrung_service.api.guide.contents import DRAWINGS, PAGES, drawing_of, style
from wrung_service.api.problem_types import NOT_FOUND
from wrung_service.api.problems import Refusal
from wrung_service.api.responses import respond_kept
from wrung_service.observe.lines import current_line

# The pages have no scripts, so none may run.
_POLICY: Final = (
    "default-src 'none'; style-src 'self'; img-src 'self'; base-uri 'none'; form-action 'none'; "
    "frame-ancestors 'none'"
)
_HEADERS: Final = {"Content-Security-Policy": _POLICY, "Referrer-Policy": "no-referrer"}
_NO_PAGE: Final = "The guide has no such page."


def guide_routes() -> list[HTTPRouteHandler]:
    """``/guide/`` with its start page, each page, and their drawings."""

    @get("/guide")
    async def show_start(request: HttpRequest) -> Response[Any]:
        # Pages link to one another relatively, so that a proxy may serve all this under a prefix.
        if not request.scope["raw_path"].endswith(b"/"):
            return Redirect("guide/", status_code=308)
        return _respond(request, pages.start_page())

    @get("/guide/{page:str}")
    async def show_page(request: HttpRequest, page: FromPath[str]) -> Response[Any]:
        # The sheet stands beside the pages, so that a relative link finds it under any prefix.
        if page == pages.STYLE:
            return respond_kept(request, style().encode(), media_type="text/css")
        if page not in PAGES:
            if not wants_page(request):
                raise Refusal(NOT_FOUND, _NO_PAGE)
            current_line().outcome = NOT_FOUND.name
            missing = pages.missing(_NO_PAGE).encode()
            return Response(missing, status_code=404, media_type=HTML, headers=_HEADERS)
        return _respond(request, pages.page(page))

    @get("/guide/drawings/{drawing:str}")
    async def show_drawing(request: HttpRequest, drawing: FromPath[str]) -> Response[Any]:
        name = drawing.removesuffix(".svg")
        # Only known names, so that none leads out of the folder.
        if name == drawing or name not in DRAWINGS or not drawing_of(name).is_file():
            raise Refusal(NOT_FOUND, "The guide has no such drawing.")
        return respond_kept(request, drawing_of(name).read_bytes(), media_type="image/svg+xml")

    return [show_start, show_page, show_drawing]


def _respond(request: HttpRequest, page: str) -> Response[bytes]:
    return respond_kept(request, page.encode(), media_type="text/html", headers=_HEADERS)
