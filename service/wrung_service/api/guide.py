"""The user's guide: Markdown of this package as plain pages, with nothing from elsewhere."""

import json
from collections.abc import Mapping
from functools import cache
from html import escape
from importlib.resources import files
from importlib.resources.abc import Traversable
from typing import Any, Final

from litestar import Response, get
from litestar.handlers import HTTPRouteHandler
from litestar.params import FromPath
from litestar.response import Redirect
from markdown_it import MarkdownIt
from msgspec import Struct

from wrung_service.api.bodies import HttpRequest
from wrung_service.api.kinds.examples import file_of, name_of
from wrung_service.api.kinds.wanted import KINDS
from wrung_service.api.operations import example
from wrung_service.api.problem_types import NOT_FOUND
from wrung_service.api.problems import Refusal

_STYLE: Final = "style.css"
# The pages have no scripts, so none may run.
_POLICY: Final = (
    "default-src 'none'; style-src 'self'; img-src 'self'; base-uri 'none'; form-action 'none'; "
    "frame-ancestors 'none'"
)
_KINDS: Final[Mapping[str, type[Struct]]] = {
    name_of(kind).replace("_", "-"): kind for kind in KINDS
}
"""The kinds of target by the names of their pages."""
_COVERAGE: Final = "coverage"
_PAGES: Final = (*_KINDS, "choices", _COVERAGE, "handwork", "metrology")


def guide_routes() -> list[HTTPRouteHandler]:
    """``/guide/`` with the list of pages, and each page."""

    @get("/guide")
    async def list_pages(request: HttpRequest) -> Response[Any]:
        # Pages link to one another relatively, so that a proxy may serve all this under a prefix.
        if not request.scope["raw_path"].endswith(b"/"):
            return Redirect("guide/", status_code=308)
        items = "".join(f'<li><a href="{name}">{_title(name)}</a></li>' for name in _PAGES)
        return _respond("Guide", f"<h1>Guide</h1><ul>{items}</ul>")

    @get("/guide/{page:str}")
    async def show_page(page: FromPath[str]) -> Response[Any]:
        # The sheet stands beside the pages, so that a relative link finds it under any prefix.
        if page == _STYLE:
            return Response(_read(_STYLE), media_type="text/css")
        if page not in _PAGES:
            raise Refusal(NOT_FOUND, "The guide has no such page.")
        return _respond(_title(page), _rendered(page))

    @get("/guide/drawings/{drawing:str}")
    async def show_drawing(drawing: FromPath[str]) -> Response[Any]:
        name = drawing.removesuffix(".svg")
        # Only the names of pages, so that none leads out of the folder.
        if name == drawing or name not in _PAGES or not _drawing(name).is_file():
            raise Refusal(NOT_FOUND, "The guide has no such drawing.")
        return Response(_drawing(name).read_bytes(), media_type="image/svg+xml")

    return [list_pages, show_page, show_drawing]


@cache
def _rendered(page: str) -> str:
    markdown = MarkdownIt("commonmark", {"html": False}).enable("table")
    rendered: str = markdown.render(_text(page))
    return rendered


@cache
def _text(page: str) -> str:
    """A page's Markdown; with its example request, and parts of what that is answered with."""
    if page in _KINDS:
        names = (file_of(_KINDS[page], "request"), file_of(_KINDS[page], "answer"))
        return _with_example(_read(f"kinds/{page}.md"), *names)
    text = _read(f"{page}.md")
    if page == _COVERAGE:
        return _with_example(text, "coverage-depleted-request", "coverage-depleted-answer")
    return text


def _with_example(text: str, request: str, answer: str) -> str:
    """The text with the request, and with each member of the answer that it names in braces."""
    parts = {"request": example("", request).value, **example("", answer).value}
    for name, part in parts.items():
        text = text.replace(f"{{{{{name}}}}}", _fenced(part))
    return text


def _title(page: str) -> str:
    return _text(page).partition("\n")[0].removeprefix("# ")


def _fenced(value: object) -> str:
    return f"```json\n{json.dumps(value, indent=2, ensure_ascii=False)}\n```"


def _drawing(name: str) -> Traversable:
    return files("wrung_service").joinpath("guide", "drawings", f"{name}.svg")


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
