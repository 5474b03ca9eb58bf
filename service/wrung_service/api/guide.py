"""The user's guide: Markdown of this package as plain pages, with nothing from elsewhere."""

from functools import cache
from html import escape
from importlib.resources import files
from typing import Any, Final

from litestar import Response, get
from litestar.handlers import HTTPRouteHandler
from litestar.params import FromPath
from litestar.response import Redirect
from markdown_it import MarkdownIt

from wrung_service.api.bodies import HttpRequest
from wrung_service.api.problem_types import NOT_FOUND
from wrung_service.api.problems import Refusal

_PAGES: Final = {"metrology": "How long a stack really is, and how sure"}
_STYLE: Final = "style.css"
_POLICY: Final = (
    "default-src 'none'; style-src 'self'; base-uri 'none'; form-action 'none'; "
    "frame-ancestors 'none'"
)


def guide_routes() -> list[HTTPRouteHandler]:
    """``/guide/`` with the list of pages, and each page."""

    @get("/guide")
    async def list_pages(request: HttpRequest) -> Response[Any]:
        # Pages link to one another relatively, so that a proxy may serve all this under a prefix.
        if not request.scope["raw_path"].endswith(b"/"):
            return Redirect("guide/", status_code=308)
        items = "".join(f'<li><a href="{name}">{title}</a></li>' for name, title in _PAGES.items())
        return _respond("Guide", f"<h1>Guide</h1><ul>{items}</ul>")

    @get("/guide/{page:str}")
    async def show_page(page: FromPath[str]) -> Response[Any]:
        if page == _STYLE:
            return Response(_read(_STYLE), media_type="text/css")
        if page not in _PAGES:
            raise Refusal(NOT_FOUND, "The guide has no such page.")
        return _respond(_PAGES[page], _rendered(page))

    return [list_pages, show_page]


@cache
def _rendered(page: str) -> str:
    rendered: str = (
        MarkdownIt("commonmark", {"html": False}).enable("table").render(_read(f"{page}.md"))
    )
    return rendered


def _read(name: str) -> str:
    return files("wrung_service").joinpath("guide", name).read_text(encoding="utf-8")


def _respond(title: str, body: str) -> Response[str]:
    page = (
        '<!DOCTYPE html><html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>wrung: {escape(title)}</title>"
        f'<link rel="stylesheet" href="{_STYLE}"></head><body><main>{body}</main></body></html>'
    )
    headers = {"Content-Security-Policy": _POLICY, "Referrer-Policy": "no-referrer"}
    return Response(page, media_type="text/html", headers=headers)
