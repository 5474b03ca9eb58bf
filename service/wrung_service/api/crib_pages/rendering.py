"""Fills the templates of the crib's pages, and answers with them."""

from collections.abc import Callable, Mapping
from typing import Any, Final
from urllib.parse import parse_qsl, urlencode

from litestar import Response
from litestar.response import Redirect
from msgspec import Struct

from wrung.texts import decimal_mark
from wrung_service.api.bodies import HTML, HttpRequest
from wrung_service.api.page_parts import LANGUAGE_COOKIE, POLICY, language_of, templates, theme_of
from wrung_service.api.page_words import Language, said_in

_A_YEAR: Final = 365 * 24 * 3600
_HEADERS: Final = {
    "Content-Security-Policy": POLICY,
    # Not to others. To itself: without it a browser would not say where a form comes from.
    "Referrer-Policy": "same-origin",
    "Vary": "Accept-Language, Cookie",
    "Cache-Control": "no-store",
}


class Pages(Struct, frozen=True, kw_only=True):
    """Makes pages.

    Attributes:
        prefix: the path that the service is shown under.
        asks: whether they ask for a key.
    """

    prefix: str
    asks: bool

    def said(self, request: HttpRequest) -> Callable[..., str]:
        """The words of the language that is wanted."""
        return said_in("crib", language_of(request))

    def mark(self, request: HttpRequest) -> str:
        """The decimal sign of that language."""
        return decimal_mark(language_of(request))

    def show(
        self,
        request: HttpRequest,
        template: str,
        *,
        status: int = 200,
        **shown: Any,  # noqa: ANN401 - whatever it needs
    ) -> Response[bytes]:
        """A page; ``shown`` is what its template is filled with."""
        language = language_of(request)
        said = said_in("crib", language)
        html = (
            templates("crib")
            .get_template(template)
            .render(
                root=f"{self.prefix}/",
                asks=self.asks,
                language=language,
                # As chosen on the page to type into.
                theme=theme_of(request),
                t=said,
                other_language=self._other(request, said("other_language")),
                **shown,
            )
        )
        return Response(
            html.encode(),
            status_code=status,
            media_type=HTML,
            headers=self._headers(request, language),
        )

    def lead(self, path: str) -> Response[Any]:
        """To a page, by GET, after something was done."""
        return Redirect(f"{self.prefix}{path}", status_code=303, headers=dict(_HEADERS))

    def _other(self, request: HttpRequest, language: str) -> str:
        """Where the same is said in another language."""
        if request.method != "GET":
            return f"{self.prefix}/crib?lang={language}"
        pairs = parse_qsl(request.url.query, max_num_fields=100)
        return "?" + urlencode([*(each for each in pairs if each[0] != "lang"), ("lang", language)])

    def _headers(self, request: HttpRequest, language: Language) -> Mapping[str, str]:
        if "lang" not in request.query_params:
            return _HEADERS
        kept = f"{LANGUAGE_COOKIE}={language}; Max-Age={_A_YEAR}; SameSite=Strict; HttpOnly"
        return {**_HEADERS, "Set-Cookie": f"{kept}; Path={self.prefix}/crib"}
