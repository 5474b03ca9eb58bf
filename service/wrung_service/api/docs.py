"""Pages that show the OpenAPI document; every asset is served from here, as shops are offline."""

from functools import cache
from importlib.resources import files
from typing import Any, Final

from litestar import Response, get
from litestar.handlers import HTTPRouteHandler
from litestar.params import FromPath
from litestar.response import Redirect

from wrung_service.api.bodies import JSON, HttpRequest
from wrung_service.api.problem_types import NOT_FOUND
from wrung_service.api.problems import Refusal
from wrung_service.api.responses import ASK_EACH_TIME, respond_kept

_PAGE: Final = "index.html"
# A list, not whatever is in the folder, so that no name leads out of it.
_ASSETS: Final = {
    "index.html": "text/html",
    "start.js": "text/javascript",
    "swagger-ui-bundle.js": "text/javascript",
    "swagger-ui.css": "text/css",
    "swagger-ui-bundle.js.LICENSE.txt": "text/plain",
    "LICENSE": "text/plain",
    "NOTICE": "text/plain",
}
# The bundle sets style attributes and has its icons as data addresses; nothing else is needed.
_POLICY: Final = (
    "default-src 'self'; style-src 'self' 'unsafe-inline'; img-src 'self' data:; "
    "object-src 'none'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)


def docs_routes(document: bytes) -> list[HTTPRouteHandler]:
    """``/openapi.json``, and ``/docs/`` which shows it."""

    # Without an `Operation`: these show the API and are not part of it.
    @get("/openapi.json")
    async def get_document(request: HttpRequest) -> Response[bytes]:
        return respond_kept(request, document, media_type=JSON, keep=ASK_EACH_TIME)

    @get("/docs")
    async def show_docs(request: HttpRequest) -> Response[Any]:
        # The page's assets are relative to it, so that a proxy may serve all this under a prefix.
        if not request.scope["raw_path"].endswith(b"/"):
            return Redirect("docs/", status_code=308)
        return _asset(request, _PAGE)

    @get("/docs/{name:str}")
    async def get_asset(request: HttpRequest, name: FromPath[str]) -> Response[Any]:
        if name not in _ASSETS:
            raise Refusal(NOT_FOUND, "The pages have no such part.")
        return _asset(request, name)

    return [get_document, show_docs, get_asset]


def _asset(request: HttpRequest, name: str) -> Response[bytes]:
    headers = {"Content-Security-Policy": _POLICY, "Referrer-Policy": "no-referrer"}
    return respond_kept(request, _content(name), media_type=_ASSETS[name], headers=headers)


@cache
def _content(name: str) -> bytes:
    return files("wrung_service").joinpath("pages", "docs", name).read_bytes()
