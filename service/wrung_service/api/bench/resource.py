"""``/`` for people: the page to type into, and the part of it that changes as they type."""

import time
from collections.abc import Callable, Mapping
from functools import cache, partial
from importlib.resources import files
from typing import Any, Final, TypeVar
from urllib.parse import parse_qsl

from litestar import Response, get
from litestar.handlers import HTTPRouteHandler
from litestar.params import FromPath
from litestar.response import Redirect
from msgspec.structs import replace

from wrung.blocks import Block
from wrung_service.api.bench.asking import Asked, asked_by
from wrung_service.api.bench.crib_shelf import CribShelf, crib_shelf
from wrung_service.api.bench.more import MoreView, more_view
from wrung_service.api.bench.question import Question, read_question
from wrung_service.api.bench.refusing import in_words
from wrung_service.api.bench.rendering import PageParts, page
from wrung_service.api.bench.view import AnswerView, answer_view
from wrung_service.api.bench.why import Why, why
from wrung_service.api.bench.words import words_in
from wrung_service.api.bodies import HTML, HttpRequest
from wrung_service.api.cards.resource import MEDIA, Printer, cards_wanted, printing
from wrung_service.api.cards.typesetting import CardFormat
from wrung_service.api.clients import client_of
from wrung_service.api.disconnects import unless_gone
from wrung_service.api.operations import PAGE
from wrung_service.api.page_parts import POLICY, theme_of, usual_language
from wrung_service.api.page_words import Language
from wrung_service.api.problem_types import NO_STORE, NOT_FOUND
from wrung_service.api.problems import Refusal
from wrung_service.api.responses import respond_kept
from wrung_service.api.shelf.asking import Crib
from wrung_service.api.stacks.answer import StackAnswer
from wrung_service.api.stacks.work import StackWork
from wrung_service.pool import BusyError, SolvePool, Turn
from wrung_service.usecases.absent_blocks import whole_shelf_of

T = TypeVar("T")

_MOST_WHY_S: Final = 0.3
"""How long it may take to find out which blocks are missed."""
_COOKIE: Final = "shelf"
_A_MONTH: Final = 31 * 24 * 3600
_A_YEAR: Final = 365 * 24 * 3600
_ASSETS: Final = {
    "bench.css": ("bench", "text/css; charset=utf-8"),
    "crib.css": ("crib", "text/css; charset=utf-8"),
    "cards.css": ("cards", "text/css; charset=utf-8"),
    "bench.js": ("bench", "text/javascript; charset=utf-8"),
    "keys.js": ("bench", "text/javascript; charset=utf-8"),
    "icon.svg": ("bench", "image/svg+xml"),
    "more.js": ("bench", "text/javascript; charset=utf-8"),
    "B612-Regular.woff2": ("fonts", "font/woff2"),
    "B612-Bold.woff2": ("fonts", "font/woff2"),
    "RoutedGothic.woff2": ("fonts", "font/woff2"),
    "B612-LICENSE.txt": ("fonts", "text/plain; charset=utf-8"),
    "RoutedGothic-LICENSE.txt": ("fonts", "text/plain; charset=utf-8"),
}
_HEADERS: Final = {
    "Content-Security-Policy": POLICY,
    # Not to others. To itself: without it a browser would not say where a form comes from.
    "Referrer-Policy": "same-origin",
    "Vary": "Accept, Accept-Encoding, Accept-Language, Cookie",
    "Cache-Control": "no-store",
}


class Bench:
    """Answers the pages; asks as a program would, in the same pool."""

    def __init__(
        self, pool: SolvePool, work: StackWork, printer: Printer, *, most_ms: int, crib: Crib | None
    ) -> None:
        """For this pool.

        Args:
            pool: where it is worked out.
            work: answers as a program is answered.
            printer: prints cards.
            most_ms: the longest search that is allowed.
            crib: the crib, if the service keeps one.
        """
        self._pool, self._work, self._printer = pool, work, printer
        self._most_ms, self._crib = most_ms, crib

    async def show(self, request: HttpRequest, template: str, site: str = "") -> Response[bytes]:
        """A page, or the part of it that changes; a whole page has its second part, too.

        Args:
            request: with the question in its address.
            template: of the page or the part.
            site: of the crib, if its blocks are the shelf.
        """
        question, shelf = await self._read(request, site)
        question = replace(question, theme=theme_of(request))
        asked = asked_by(question, self._most_ms)
        answer, problem = await self._answer(request, asked, shown(question), question.language)
        parts = self._parts(shelf, answer=answer, problem=problem)
        if answer is not None:
            parts = replace(parts, why=await self._why(request, question, answer))
        if answer is not None and answer.stacks and template == "page.html":
            parts = replace(parts, more=await self._more(request, question, shelf))
        content = page(template, question, asked, parts)
        made = Response(content, media_type=HTML, headers=_headers(question))
        if "theme" in request.query_params:
            made.set_cookie(
                "theme", question.theme, max_age=_A_YEAR, httponly=True, samesite="strict"
            )
        return made

    async def cards(self, request: HttpRequest, site: str = "") -> Response[Any]:
        """What the page shows, as cards; the page itself as long as that is nothing."""
        question, _ = await self._read(request, site)
        wanted = cards_wanted(request, _paper(question))
        printed = printing(wanted, self._printer)
        paper, _ = await self._answer(
            request, asked_by(question, self._most_ms), printed, question.language
        )
        if paper is None:
            back = "../stacks" if site else "../"
            return Redirect(f"{back}?{question.address()}", status_code=303)
        return Response(paper, media_type=MEDIA[wanted.media], headers=_HEADERS)

    async def show_more(self, request: HttpRequest, site: str = "") -> Response[bytes]:
        """The second part by itself."""
        question, shelf = await self._read(request, site)
        parts = self._parts(shelf, more=await self._more(request, question, shelf))
        content = page("more.html", question, asked_by(question, self._most_ms), parts)
        return Response(content, media_type=HTML, headers=_HEADERS)

    async def _read(self, request: HttpRequest, site: str) -> tuple[Question, CribShelf | None]:
        usual = usual_language(request)
        question = read_question(_pairs(request.url.query), _remembered(request), site, usual)
        if not site:
            return question, None
        if self._crib is None:
            raise Refusal(NO_STORE, "This service keeps no crib.")
        return await crib_shelf(request, self._crib, question)

    def _parts(self, shelf: CribShelf | None, **parts: Any) -> PageParts:  # noqa: ANN401 - its members
        keeps = self._crib is not None
        return PageParts(most_ms=self._most_ms, crib=keeps, shelf=shelf, **parts)

    async def _why(
        self, request: HttpRequest, question: Question, answer: AnswerView
    ) -> Why | None:
        """Asks once more as if all blocks were there, if any are not."""
        if question.chosen:
            return None
        gone, lying = await self._not_there(request, question)
        if not gone:
            return None

        async def as_if_only(away: frozenset[str]) -> AnswerView | None:
            fewer = tuple(each for each in lying if each.id not in away)
            whole = replace(question, gone=tuple(away))
            asked = asked_by(whole, self._most_ms, lying=fewer)
            return (await self._answer(request, asked, shown(whole), whole.language))[0]

        began, away = time.monotonic(), frozenset[str]()
        before = await as_if_only(away)
        found = None if before is None else why(answer, before, gone)
        # Of several stacks as good, one may do without a block that is named: is that so?
        tried = set[str]()
        while found and before and time.monotonic() - began < _MOST_WHY_S:
            each = next((block.id for block in found.blocks if block.id not in tried), None)
            if each is None:
                break
            tried.add(each)
            other = await as_if_only(away | {each})
            if other is not None and other.is_as_good_as(before):
                before, away = other, away | {each}
                found = why(answer, before, gone)
        return found

    async def _not_there(
        self, request: HttpRequest, question: Question
    ) -> tuple[Mapping[str, str], tuple[Block, ...]]:
        """By id the word for why a block cannot be had; with a crib, all of its blocks, too."""
        marked = dict.fromkeys(question.gone, "not_there")
        if not question.site or self._crib is None:
            return marked, ()
        at = self._crib.clock()
        look = partial(whole_shelf_of, site=question.site, sets=question.cases, now=at)
        shelf = await self._crib.door.run(request, look)
        return {**marked, **{n: f"why.{each}" for n, each in shelf.absent.items()}}, shelf.blocks

    async def _more(
        self, request: HttpRequest, question: Question, shelf: CribShelf | None
    ) -> MoreView | None:
        if question.chosen:
            return None
        asked, words = asked_by(question, self._most_ms, more=True), words_in(question.language)
        sets = (question.cases or shelf.seen.sets) if shelf else question.sets
        more, _ = await self._answer(
            request,
            asked,
            lambda answer: more_view(answer, words, named=len(sets) > 1),
            question.language,
        )
        return more

    async def _answer(
        self,
        request: HttpRequest,
        asked: Asked,
        made: Callable[[StackAnswer], T],
        language: Language,
    ) -> tuple[T | None, str | None]:
        """What is made of the answer, or why there is none in a sentence."""
        body = asked.body
        if body is None:
            return None, None

        def work(turn: Turn) -> T:
            return made(self._work(body, turn, record=True))

        running = self._pool.run(
            work, client=client_of(request), limit_ms=asked.limit_ms, received=time.monotonic()
        )
        try:
            return await unless_gone(request.receive, running), None
        except BusyError:
            return None, words_in(language).say("busy")
        except Refusal as refused:
            return None, in_words(refused, body, language)


def shown(question: Question) -> Callable[[StackAnswer], AnswerView]:
    """What the page shows of an answer to the question."""
    return lambda answer: answer_view(answer, question)


def bench_routes(bench: Bench) -> list[HTTPRouteHandler]:
    """The part that changes, and what the pages are made of; ``/`` itself is in `api.start`."""

    @get("/bench/answer", opt={PAGE: True})
    async def show_answer(request: HttpRequest) -> Response[bytes]:
        return await bench.show(request, "part.html")

    @get("/bench/more", opt={PAGE: True})
    async def show_more(request: HttpRequest) -> Response[bytes]:
        return await bench.show_more(request)

    @get("/bench/cards", opt={PAGE: True})
    async def print_cards(request: HttpRequest) -> Response[Any]:
        return await bench.cards(request)

    @get("/bench/{name:str}")
    async def get_asset(request: HttpRequest, name: FromPath[str]) -> Response[Any]:
        if name not in _ASSETS:
            raise Refusal(NOT_FOUND, "The pages have no such part.")
        return respond_kept(request, _content(name), media_type=_ASSETS[name][1])

    @get("/favicon.ico", opt={PAGE: True})
    async def get_icon(request: HttpRequest) -> Response[Any]:
        # Browsers ask for it beside a PDF, which cannot name an icon.
        return respond_kept(request, _content("icon.svg"), media_type=_ASSETS["icon.svg"][1])

    return [show_answer, show_more, print_cards, get_asset, get_icon]


def _paper(question: Question) -> CardFormat:
    """A small card for one target, else four a page; of the papers of the unit's countries."""
    if question.unit == "in":
        return "letter" if question.kept else "half-letter"
    return "a4" if question.kept else "a6"


@cache
def _content(name: str) -> bytes:
    folder, _ = _ASSETS[name]
    return files("wrung_service").joinpath("pages", folder, name).read_bytes()


def _pairs(query: str) -> list[tuple[str, str]]:
    return parse_qsl(query, max_num_fields=1000)


def _remembered(request: HttpRequest) -> list[tuple[str, str]]:
    return _pairs(request.cookies.get(_COOKIE, "").replace("+", "%20"))


def _headers(question: Question) -> Mapping[str, str]:
    if question.assumed or question.site:
        return _HEADERS
    # Only the shelf, so that it still lies there when the page is opened anew.
    kept = f"{_COOKIE}={question.shelf}; Max-Age={_A_MONTH}; SameSite=Strict; HttpOnly; Path=/"
    return {**_HEADERS, "Set-Cookie": kept} if len(kept) < 4000 else _HEADERS  # noqa: PLR2004 - of a browser
