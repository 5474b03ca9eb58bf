"""``/v1/batches``: requests answered in the background, their progress and results."""

import re
from typing import Final

import msgspec
from litestar import Response, get, post
from litestar.handlers import HTTPRouteHandler
from litestar.response import Stream
from msgspec import Raw

from wrung_service.api.batches.listing import listing_route
from wrung_service.api.batches.operations import (
    BATCH,
    CANCEL,
    EVENTS,
    GET,
    NDJSON,
    POST,
    RESULTS,
    WATCH,
)
from wrung_service.api.batches.posting import BatchDoor, Posting, retry_after
from wrung_service.api.batches.shapes import write_batch
from wrung_service.api.batches.streaming import (
    END,
    Part,
    Pieces,
    Streams,
    event_id,
    part_after,
)
from wrung_service.api.bodies import JSON, HttpRequest, preferred
from wrung_service.api.callers import Caller, current_caller
from wrung_service.api.clients import client_of
from wrung_service.api.operations import OPERATION
from wrung_service.api.problem_types import FORBIDDEN, INVALID_PARAMETER
from wrung_service.api.problems import Refusal
from wrung_service.api.responses import ASK_EACH_TIME, respond, respond_kept
from wrung_service.api.shelf.asking import id_of
from wrung_service.api.shelf.filters import truth_in
from wrung_service.observe.lines import current_line
from wrung_service.store.batches.batches import Batch, get_batch
from wrung_service.store.engine import Store
from wrung_service.store.errors import UnknownError
from wrung_service.usecases.batches.ending import cancel_batch
from wrung_service.usecases.scopes import SCOPES, Scope

_PATH: Final = "/v1/batches/{batch_id:str}"
_NO_CACHE: Final = {"Cache-Control": "no-store", "X-Accel-Buffering": "no"}
"""Nothing on the way may keep a stream back; the second is what a common proxy asks for."""
_NUMBER: Final = re.compile(r"-1|[0-9]{1,7}")
_MOST: Final = 1_000_000
_MORE_THAN_READ: Final = frozenset[Scope](SCOPES) - {"read"}
_ENCODER: Final = msgspec.json.Encoder()


def batch_routes(batches: BatchDoor, posting: Posting, streams: Streams) -> list[HTTPRouteHandler]:
    """Posting, listing, watching, reading and cancelling."""
    return [*_changing(batches, posting), listing_route(posting), *_reading(posting, streams)]


def _changing(batches: BatchDoor, posting: Posting) -> list[HTTPRouteHandler]:
    @post(
        "/v1/batches",
        status_code=202,
        opt={OPERATION: POST},
        request_max_body_size=posting.limits.max_batch_bytes,
    )
    async def post_batch(request: HttpRequest) -> Response[bytes]:
        return await batches.post(request)

    @post(f"{_PATH}/cancel", status_code=200, opt={OPERATION: CANCEL})
    async def cancel(request: HttpRequest) -> Response[bytes]:
        name, caller = id_of(request, BATCH), current_caller()

        def work(store: Store) -> Batch:
            _check_may_cancel(_seen(store, name), caller)
            return cancel_batch(
                store, name, who=caller.name, now=posting.clock(), keep_for=posting.keep_for
            )

        return respond(write_batch(await posting.door.run(request, work)))

    return [post_batch, cancel]


def _reading(posting: Posting, streams: Streams) -> list[HTTPRouteHandler]:
    door = posting.door

    @get(_PATH, opt={OPERATION: GET})
    async def get_one(request: HttpRequest) -> Response[bytes]:
        name = id_of(request, BATCH)
        batch = await door.run(request, lambda store: _seen(store, name))
        headers = (
            {"Retry-After": str(retry_after(batch.total, batch.answered))} if batch.going_on else {}
        )
        body = _ENCODER.encode(write_batch(batch))
        return respond_kept(request, body, media_type=JSON, keep=ASK_EACH_TIME, headers=headers)

    @get(f"{_PATH}/results", opt={OPERATION: RESULTS})
    async def list_results(request: HttpRequest) -> Response[bytes] | Stream:
        name, after, wait = id_of(request, BATCH), _after(request), truth_in(request, "wait")

        def look(store: Store) -> Part:
            _seen(store, name)
            return part_after(store, name, after)

        # Before the answer begins, so that what is not there is a problem.
        part = await door.run(request, look)
        if preferred(request, NDJSON, JSON) == JSON:
            return Response(_page(part, after), media_type=JSON)
        lines = streams.lines(client_of(request), name, after, wait=wait is not False)
        return _stream(lines, NDJSON)

    @get(f"{_PATH}/events", opt={OPERATION: WATCH})
    async def watch(request: HttpRequest) -> Response[bytes] | Stream:
        name, last = id_of(request, BATCH), request.headers.get("last-event-id")
        batch = await door.run(request, lambda store: _seen(store, name))
        if last == END == event_id(batch):
            # Tells browsers not to connect any more.
            return Response(b"", status_code=204, media_type=EVENTS)
        events = streams.events(client_of(request), name, last)
        return _stream(events, EVENTS)

    return [get_one, list_results, watch]


def _stream(pieces: Pieces, media_type: str) -> Stream | Response[bytes]:
    if current_line().method == "HEAD":
        # What GET would send may take minutes to come.
        return Response(b"", media_type=media_type, headers=_NO_CACHE)
    return Stream(pieces, media_type=media_type, headers=_NO_CACHE)


def _page(part: Part, after: int) -> bytes:
    """Lines as a page of JSON; they go out as they were kept."""
    last = part.lines[-1].position if part.lines else after
    results = [Raw(each.line.encode()) for each in part.lines]
    following = None if part.complete else last
    return _ENCODER.encode({"results": results, "next": following})


def _after(request: HttpRequest) -> int:
    """The position behind which results are wanted; -1 for all.

    Raises:
        Refusal: 400, it is none.
    """
    given = request.query_params.get("after")
    if given is None:
        return -1
    if not _NUMBER.fullmatch(given) or int(given) > _MOST:
        raise Refusal(INVALID_PARAMETER, f"after: {given[:40]!r} is no position.")
    return int(given)


def _seen(store: Store, name: str) -> Batch:
    """A batch that the caller may see: of a site that it sees, or its own.

    Raises:
        UnknownError: there is none.
    """
    with store.reading() as connection:
        batch = get_batch(connection, name)
    caller = current_caller()
    seen = caller.name == batch.made_by if batch.site_id is None else caller.sees(batch.site_id)
    if not seen:
        raise UnknownError("batch", name)
    return batch


def _check_may_cancel(batch: Batch, caller: Caller) -> None:
    """Whoever may only ask ends nothing that others asked.

    Raises:
        Refusal: 403, it is somebody else's.
    """
    if caller.name != batch.made_by and not caller.scopes & _MORE_THAN_READ:
        detail = "Somebody else posted this batch: to cancel it needs more than the scope read."
        raise Refusal(FORBIDDEN, detail)
