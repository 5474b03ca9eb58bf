"""What goes wrong on a page, as a page: problems in words, and the question for a key."""

from collections.abc import Callable
from typing import Any
from urllib.parse import quote

from litestar import Response

from wrung_service.api.admission import KEY_COOKIE
from wrung_service.api.bodies import HttpRequest
from wrung_service.api.crib_pages.rendering import Pages
from wrung_service.api.failures import Handlers
from wrung_service.api.german import in_language
from wrung_service.api.page_parts import language_of
from wrung_service.api.problem_types import FORBIDDEN, UNAUTHORIZED
from wrung_service.api.problems import Problem


def failing_pages(handlers: Handlers, pages: Pages) -> Handlers:
    """The handlers of the API; what they answer is shown to people."""

    def on_pages(kind: int | type[Exception]) -> Any:  # noqa: ANN401 - as the framework has it
        def handle(request: HttpRequest, error: Any) -> Response[Any]:  # noqa: ANN401
            request.state.language = language_of(request)
            answer = handlers[kind](request, error)
            problem = answer.content
            if not isinstance(problem, Problem):
                return answer
            page = _page(request, problem, pages)
            for name in ("Retry-After", "WWW-Authenticate", "Allow"):
                if name in answer.headers:
                    page.headers[name] = answer.headers[name]
            return page

        return handle

    return {kind: on_pages(kind) for kind in handlers}


def fault_words(request: HttpRequest) -> Callable[[str], str]:
    """Puts what is wrong with a field into the language of the page."""
    language = language_of(request)
    return lambda english: in_language(english, language)


def _asked(request: HttpRequest) -> str:
    """The page that was asked for, to lead there once the key is known."""
    if request.method != "GET":
        return "/crib"
    query = request.url.query
    return quote(request.url.path) + (f"?{query}" if query else "")


def _page(request: HttpRequest, problem: Problem, pages: Pages) -> Response[bytes]:
    asks = problem.status in (UNAUTHORIZED.status, FORBIDDEN.status) and pages.asks
    return pages.show(
        request,
        "problem.html",
        status=problem.status,
        problem=problem,
        for_key=asks,
        has_key=KEY_COOKIE in request.cookies,
        back=pages.prefix + _asked(request),
    )
