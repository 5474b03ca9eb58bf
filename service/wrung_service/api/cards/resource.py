"""``/v1/cards``: stacks as cards on paper."""

import tomllib
from collections.abc import Callable, Mapping
from functools import cache
from importlib.resources import files
from typing import cast

from litestar import Response, post
from litestar.handlers import HTTPRouteHandler
from msgspec import UNSET, Struct

from wrung_service.api.bodies import HttpRequest, preferred
from wrung_service.api.cards.card import cards_of
from wrung_service.api.cards.operations import MAKE, MOST_JOB, MOST_PAGES, PDF, PNG
from wrung_service.api.cards.typesetting import FORMATS, CardFormat, Printed, as_pdf, as_png
from wrung_service.api.operations import OPERATION
from wrung_service.api.problem_types import INVALID_PARAMETER, NOT_FOUND
from wrung_service.api.problems import Refusal
from wrung_service.api.stacks.answer import StackAnswer
from wrung_service.api.stacks.work import StackWork
from wrung_service.api.working import Form, answer_in_pool
from wrung_service.pool import SolvePool, Turn
from wrung_service.settings import Limits


class CardsWanted(Struct, frozen=True, kw_only=True):
    """How cards are to be printed."""

    format: CardFormat
    job: str
    page: int


def cards_wanted(request: HttpRequest) -> CardsWanted:
    """From the address.

    Raises:
        Refusal: 400, it asks for what there is not.
    """
    given = request.query_params
    paper, job, page = given.get("format", "a6"), given.get("job", ""), given.get("page", "1")
    if paper not in FORMATS:
        _refuse(f"format: {paper[:40]!r} is none of {', '.join(FORMATS)}.")
    if len(job) > MOST_JOB or not job.isprintable():
        _refuse(f"job: at most {MOST_JOB} characters in one line.")
    if not page.isdecimal() or not 1 <= int(page[:9]) <= MOST_PAGES:
        _refuse(f"page: {page[:40]!r} is no number from 1 to {MOST_PAGES}.")
    return CardsWanted(format=cast("CardFormat", paper), job=job, page=int(page))


def _refuse(detail: str) -> None:
    raise Refusal(INVALID_PARAMETER, detail)


def card_routes(pool: SolvePool, limits: Limits, work: StackWork) -> list[HTTPRouteHandler]:
    """The one resource."""

    @post("/v1/cards", status_code=200, opt={OPERATION: MAKE})
    async def make_cards(request: HttpRequest) -> Response[bytes]:
        wanted = cards_wanted(request)
        media = preferred(request, PDF, PNG)
        form = Form(media_type=media, encode=printing(wanted, as_picture=media == PNG))

        def answer(body: bytes, turn: Turn) -> StackAnswer:
            return work(body, turn, record=True, for_bench=True)

        return await answer_in_pool(request, answer, pool=pool, limits=limits, form=form)

    return [make_cards]


def printing(wanted: CardsWanted, *, as_picture: bool) -> Callable[[StackAnswer], bytes]:
    """What makes paper of an answer that has its record."""

    def printed(answer: StackAnswer) -> bytes:
        record = answer.record
        assert record is not UNSET  # noqa: S101 - it was asked for
        language = str(record.request["language"])
        cards = cards_of(answer, record, language)
        words = _words(language)
        sheet = Printed(job=wanted.job, format=wanted.format, cards=cards, words=words)
        if not as_picture:
            return as_pdf(sheet)
        picture = as_png(sheet, wanted.page)
        if picture is None:
            raise Refusal(NOT_FOUND, f"There is no page {wanted.page}.")
        return picture

    return printed


@cache
def _words(language: str) -> Mapping[str, str]:
    path = files("wrung_service").joinpath("pages", "cards", f"{language}.toml")
    words: Mapping[str, str] = tomllib.loads(path.read_text(encoding="utf-8"))["words"]
    return words
