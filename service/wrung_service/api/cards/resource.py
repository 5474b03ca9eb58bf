"""``/v1/cards`` and ``/v1/plans/{plan_id}/cards``: stacks as cards on paper."""

import re
from collections.abc import Callable, Mapping, Sequence
from typing import Final, cast

from litestar import Response, get, post
from litestar.handlers import HTTPRouteHandler
from litestar.params import FromPath
from msgspec import UNSET, Struct, json
from msgspec.structs import replace

from wrung_service.api.bodies import HTML, HttpRequest, preferred
from wrung_service.api.cards.address import page_address
from wrung_service.api.cards.operations import MAKE, MOST_JOB, MOST_PAGES, OF_PLAN, PDF, PNG
from wrung_service.api.cards.page import place_of
from wrung_service.api.cards.printing import Address, CardsWanted, print_cards
from wrung_service.api.cards.typesetting import FORMATS, CardFormat, CardMedia
from wrung_service.api.operations import OPERATION
from wrung_service.api.page_parts import POLICY
from wrung_service.api.plans.work import seen_plan
from wrung_service.api.problem_types import INVALID_PARAMETER
from wrung_service.api.problems import Refusal
from wrung_service.api.records.reading import RecordReader
from wrung_service.api.records.shape import StackRecord
from wrung_service.api.responses import ASK_EACH_TIME, respond_kept
from wrung_service.api.stacks.answer import StackAnswer
from wrung_service.api.stacks.work import StackWork
from wrung_service.api.storing import StoreDoor
from wrung_service.api.texts import PRINTABLE
from wrung_service.api.working import Form, answer_in_pool
from wrung_service.pool import SolvePool, Turn
from wrung_service.settings import Limits
from wrung_service.store.engine import Store

MEDIA: Final[Mapping[CardMedia, str]] = {"pdf": PDF, "html": HTML, "png": PNG}
_VARY: Final = {"Vary": "Accept, Accept-Encoding"}
HEADERS: Final[Mapping[CardMedia, Mapping[str, str]]] = {
    "pdf": _VARY, "png": _VARY,
    "html": {
        "Vary": "Accept, Accept-Encoding, Cookie",
        "Content-Security-Policy": POLICY,
        "Referrer-Policy": "no-referrer",
    },
}  # fmt: skip
_DECODER: Final = json.Decoder(StackRecord)


def cards_wanted(request: HttpRequest, usual: CardFormat = "a6") -> CardsWanted:
    """From the address; ``usual`` is the format where it says none.

    Raises:
        Refusal: 400, it asks for what there is not.
    """
    given = request.query_params
    job, page = given.get("job", ""), given.get("page", "1")
    if "job" in given and (len(job) > MOST_JOB or not re.match(PRINTABLE, job)):
        _refuse(f"job: at most {MOST_JOB} characters in one line.")
    if not page.isdecimal() or not 1 <= int(page[:9]) <= MOST_PAGES:
        _refuse(f"page: {page[:40]!r} is no number from 1 to {MOST_PAGES}.")
    paper = _one_of("format", given.get("format", usual), FORMATS)
    accepted = preferred(request, MEDIA["pdf"], *MEDIA.values())
    by_type = {media_type: name for name, media_type in MEDIA.items()}
    media = _one_of("media", given.get("media", by_type[accepted]), tuple(MEDIA))
    return CardsWanted(
        format=cast("CardFormat", paper),
        media=cast("CardMedia", media),
        job=job,
        page=int(page),
        place=place_of(request),
    )


def _one_of(name: str, text: str, known: Sequence[str]) -> str:
    if text not in known:
        _refuse(f"{name}: {text[:40]!r} is none of {', '.join(known)}.")
    return text


def _refuse(detail: str) -> None:
    raise Refusal(INVALID_PARAMETER, detail)


class Printer(Struct, frozen=True, kw_only=True):
    """What it takes to print cards of records; ``public_url`` is empty if nobody said it."""

    read: RecordReader
    public_url: str


def card_routes(
    pool: SolvePool, limits: Limits, work: StackWork, printer: Printer
) -> list[HTTPRouteHandler]:
    """The cards of a request."""

    @post("/v1/cards", status_code=200, opt={OPERATION: MAKE})
    async def make_cards(request: HttpRequest) -> Response[bytes]:
        wanted = cards_wanted(request)

        def answer(body: bytes, turn: Turn) -> StackAnswer:
            return work(body, turn, record=True)

        form = Form(media_type=MEDIA[wanted.media], encode=printing(wanted, printer))
        response = await answer_in_pool(request, answer, pool=pool, limits=limits, form=form)
        response.headers.update(HEADERS[wanted.media])
        return response

    return [make_cards]


def printing(wanted: CardsWanted, printer: Printer) -> Callable[[StackAnswer], bytes]:
    """What makes paper of an answer that has its record."""

    def printed(answer: StackAnswer) -> bytes:
        record = answer.record
        assert record is not UNSET  # noqa: S101 - it is asked for
        address = page_address(record, printer.public_url, printer.read)
        return print_cards(record, wanted, address, printer.read)

    return printed


def plan_card_routes(door: StoreDoor, printer: Printer) -> list[HTTPRouteHandler]:
    """The cards of a plan."""

    @get("/v1/plans/{plan_id:str}/cards", opt={OPERATION: OF_PLAN})
    async def get_plan_cards(request: HttpRequest, plan_id: FromPath[str]) -> Response[bytes]:
        wanted = cards_wanted(request)
        where = f"{printer.public_url}/v1/plans/{plan_id}" if printer.public_url else ""

        def printed(store: Store) -> bytes:
            plan = seen_plan(store, plan_id)
            job = wanted.job or (plan.job if len(plan.job) <= MOST_JOB else "")
            record = _DECODER.decode(plan.record)
            return print_cards(record, replace(wanted, job=job), Address(text=where), printer.read)

        cards = await door.run(request, printed)
        kind = MEDIA[wanted.media]
        response = respond_kept(request, cards, media_type=kind, keep=ASK_EACH_TIME)
        response.headers.update(HEADERS[wanted.media])
        return response

    return [get_plan_cards]
