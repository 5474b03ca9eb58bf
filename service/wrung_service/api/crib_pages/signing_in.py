"""The key of whoever looks at pages: asked for once, and kept in a cookie."""

import re
from typing import Any, Final

from litestar import Response, post
from litestar.handlers import HTTPRouteHandler

from wrung_service.api.admission import KEY_COOKIE
from wrung_service.api.bodies import HttpRequest
from wrung_service.api.crib_pages.forms import sent_form
from wrung_service.api.crib_pages.rendering import Pages
from wrung_service.api.failures import Handlers

_KEY: Final = re.compile(r"[A-Za-z0-9._~+/=-]{1,3800}")
"""Keys and tokens are of these letters (RFC 6750, 2.1); browsers keep no longer cookies."""


def signing_in(pages: Pages, failures: Handlers) -> HTTPRouteHandler:
    """Takes a key, or forgets it where none is sent; the next page says whether it is valid."""

    @post("/crib-key", status_code=303, exception_handlers=failures)
    async def keep_key(request: HttpRequest) -> Response[Any]:
        form = await sent_form(request)
        key, back = form.one("key").strip(), form.one("back")
        answer = pages.lead(_own(back.removeprefix(pages.prefix)))
        answer.headers["Set-Cookie"] = _cookie(request, pages, key if _KEY.fullmatch(key) else "")
        return answer

    return keep_key


def _own(path: str) -> str:
    """Only to pages of the crib, wherever somebody wants to be led."""
    own = re.fullmatch(r"/crib(/[A-Za-z0-9._~/%-]*)?(\?[A-Za-z0-9._~/%=&+:,-]*)?", path)
    return path if own else "/crib"


def _cookie(request: HttpRequest, pages: Pages, key: str) -> str:
    # Sent with pages of the crib only, and never where another site leads here.
    parts = [f"{KEY_COOKIE}={key}", "HttpOnly", "SameSite=Strict", f"Path={pages.prefix}/crib"]
    if not key:
        parts.append("Max-Age=0")
    if request.url.scheme == "https":
        parts.append("Secure")
    return "; ".join(parts)
