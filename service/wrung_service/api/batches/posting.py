"""From the body of a batch, or of a single request that need not be answered at once, to 202."""

from collections.abc import Callable
from datetime import timedelta
from typing import Annotated, Final
from uuid import uuid4

import msgspec
from litestar import Response
from msgspec import Meta, Struct

from wrung_service.api.batches.operations import NDJSON
from wrung_service.api.batches.reading import BatchReader
from wrung_service.api.batches.shapes import Batch, write_batch
from wrung_service.api.bodies import (
    JSON,
    HttpRequest,
    media_type_of,
    read_document,
    wanted_language,
)
from wrung_service.api.callers import Caller, current_caller
from wrung_service.api.decoding import BYTE_ORDER_MARK
from wrung_service.api.plans.parameters import key_of
from wrung_service.api.problem_types import NOT_FOUND, TOO_MANY_REQUESTS
from wrung_service.api.problems import Refusal
from wrung_service.api.shelf.filters import text_in
from wrung_service.api.stacks.reading import Clock
from wrung_service.api.storing import StoreDoor
from wrung_service.api.texts import SITE_ID
from wrung_service.observe.lines import current_line
from wrung_service.pool import BusyError
from wrung_service.settings import Limits
from wrung_service.store.batches import batches
from wrung_service.store.engine import Store
from wrung_service.store.errors import UnknownError
from wrung_service.store.idempotency import AnsweredError, KeptAnswer, Key, kept_answer
from wrung_service.usecases.batches.post import NewBatch, TooManyWaitingError, post_batch

ACCEPTED: Final = 202
_MOST_AT_ONCE: Final = 2
"""Large bodies received at one time: each is held in memory several times over."""
LONGEST_SITE: Final = 64
_A_SECOND: Final = 50
"""Requests that a worker or two may answer in one, for `Retry-After`."""
_LONGEST_WAIT_S: Final = 60
_ENCODER: Final = msgspec.json.Encoder()


class _Crib(Struct, frozen=True):
    site: Annotated[str, Meta(pattern=SITE_ID, max_length=LONGEST_SITE)]


class _Named(Struct, frozen=True):
    """What a request for stacks says of where it belongs."""

    crib: _Crib | None = None


_NAMED: Final = msgspec.json.Decoder(_Named)


class Posting(Struct, frozen=True, kw_only=True):
    """What it takes to keep batches.

    Attributes:
        keep_for: how long a batch may take, and how long its answers are kept.
        begun: called when there is something new to do.
    """

    door: StoreDoor
    clock: Clock
    limits: Limits
    keep_for: timedelta
    prefix: str
    begun: Callable[[], object]


class BatchDoor:
    """Takes batches in."""

    def __init__(self, posting: Posting) -> None:
        self._posting = posting
        self._reader = BatchReader(posting.limits)
        self._receiving = 0

    @property
    def open(self) -> bool:
        """Whether there is a store to keep batches in."""
        return self._posting.door.there

    async def post(self, request: HttpRequest) -> Response[bytes]:
        """Keep the batch in the body of a request.

        Raises:
            Refusal: 404, there is no store, or no such site; or with what is wrong with the body.
            BusyError: too many batches are being received.
        """
        # First, so that a body that cannot be kept is not received either.
        _ = self._posting.door.store
        site = text_in(request, "site", LONGEST_SITE)
        if site is not None and not current_caller().sees(site):
            raise Refusal(NOT_FOUND, f"There is no site {site!r}.")
        large = self._is_large(request)
        if large and self._receiving >= _MOST_AT_ONCE:
            raise BusyError("Other batches are being received.", 1)
        self._receiving += large
        try:
            body = await read_document(request, (JSON, NDJSON))
            lines = media_type_of(request) == NDJSON
            return await self._keep(
                request, body, lambda: self._reader.read(body, lines=lines), site
            )
        finally:
            self._receiving -= large

    def _is_large(self, request: HttpRequest) -> bool:
        """Whether a body may be larger than any other that the service takes."""
        length = request.headers.get("content-length", "")
        return not length.isdecimal() or int(length) > self._posting.limits.max_body_bytes

    async def post_one(self, request: HttpRequest) -> Response[bytes]:
        """Keep a batch of the one request that a body is, as its client asked for."""
        body = await read_document(request, (JSON,))

        def read() -> list[str]:
            return [self._reader.one(body)]

        site = _site_of(body)
        try:
            response = await self._keep(request, body, read, site)
        except UnknownError:
            # What is wrong with the request is for its answer to say.
            response = await self._keep(request, body, read, None)
        response.headers["Preference-Applied"] = "respond-async"
        return response

    async def _keep(
        self,
        request: HttpRequest,
        body: bytes,
        read: Callable[[], list[str]],
        site: str | None,
    ) -> Response[bytes]:
        caller, request_id = current_caller(), current_line().request_id
        empty = self._new(caller, site, request_id, wanted_language(request) or "en")

        def work(store: Store) -> KeptAnswer:
            key = key_of(request, caller, body)
            if key is not None and (kept := _kept(store, key)) is not None:
                return kept
            return self._kept(store, read(), empty, key)

        kept = await self._posting.door.run(request, work)
        self._posting.begun()
        response = Response(kept.body.encode(), media_type=JSON, status_code=kept.status)
        response.headers["Location"] = kept.location or ""
        batch = msgspec.json.decode(kept.body, type=Batch)
        response.headers["Retry-After"] = str(retry_after(batch.total, batch.answered))
        return response

    def _new(
        self, caller: Caller, site: str | None, request_id: str, language: batches.Language
    ) -> batches.Batch:
        now = self._posting.clock()
        # A batch of a site is seen by whoever sees that site, so it must see no other.
        sites = caller.sites if site is None else frozenset({site})
        return batches.Batch(
            id=uuid4().hex,
            site_id=site,
            state="waiting",
            total=0,
            made_at=now,
            made_by=caller.name,
            sites=None if sites is None else _ENCODER.encode(sorted(sites)).decode(),
            request_id=request_id,
            language=language,
            expires_at=now + self._posting.keep_for,
        )

    def _kept(
        self, store: Store, requests: list[str], empty: batches.Batch, key: Key | None
    ) -> KeptAnswer:
        batch = msgspec.structs.replace(empty, total=len(requests))
        answer = KeptAnswer(
            status=ACCEPTED,
            location=f"{self._posting.prefix}/v1/batches/{batch.id}",
            body=_ENCODER.encode(write_batch(batch)).decode(),
        )
        new = NewBatch(
            batch=batch,
            requests=requests,
            key=None if key is None else (key, answer),
            most_waiting=self._posting.limits.max_waiting_requests,
        )
        try:
            post_batch(store, new)
        except AnsweredError as error:
            return error.answer
        except TooManyWaitingError:
            raise _too_many(self._posting.limits) from None
        return answer


def prefers_later(request: HttpRequest) -> bool:
    """Whether a client would rather not wait for its answer (RFC 7240, 4.1)."""
    said = ",".join(request.headers.getall("prefer", []))
    # A preference may have parameters, which this one has none of.
    given = (each.partition(";")[0].strip().lower() for each in said.split(","))
    return "respond-async" in given


def retry_after(total: int, answered: int) -> int:
    """Whole seconds until there may be much that is new of a batch."""
    return min(_LONGEST_WAIT_S, 1 + (total - answered) // _A_SECOND)


def _site_of(body: bytes) -> str | None:
    """The site whose crib a single request names, if its caller sees that."""
    try:
        named = _NAMED.decode(body.removeprefix(BYTE_ORDER_MARK))
    except (msgspec.DecodeError, RecursionError):
        return None
    site = named.crib.site if named.crib else None
    return site if site is not None and current_caller().sees(site) else None


def _kept(store: Store, key: Key) -> KeptAnswer | None:
    with store.reading() as connection:
        return kept_answer(connection, key)


def _too_many(limits: Limits) -> Refusal:
    detail = f"More than {limits.max_waiting_requests} of your requests would wait in batches."
    return Refusal(TOO_MANY_REQUESTS, detail, headers={"Retry-After": str(_LONGEST_WAIT_S)})
