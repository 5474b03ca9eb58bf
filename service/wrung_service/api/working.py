"""Everything that a posted body costs, from reading it to writing the answer, in one worker."""

import time
from collections.abc import Callable, Sequence
from typing import Any, Final, TypeAlias

import msgspec
from litestar import Response
from msgspec import Struct

from wrung.errors import InputError
from wrung_service.api.bodies import JSON, HttpRequest, read_document
from wrung_service.api.clients import client_of
from wrung_service.api.decoding import time_limit_of
from wrung_service.api.disconnects import unless_gone
from wrung_service.api.problems import Refusal
from wrung_service.memory import resident_mb
from wrung_service.observe.lines import CanonicalLine, current_line
from wrung_service.pool import SolvePool, Turn
from wrung_service.settings import Limits

Work: TypeAlias = Callable[[bytes, Turn], Struct]
"""From a body to an answer; raises whatever is to become a problem."""


class Form(Struct, frozen=True, kw_only=True):
    """How an answer is written: its media type, and its bytes."""

    media_type: str
    encode: Callable[[Any], bytes]


AS_JSON: Final = Form(media_type=JSON, encode=msgspec.json.Encoder().encode)


async def answer_in_pool(  # noqa: PLR0913 -- what resources differ in
    request: HttpRequest,
    work: Work,
    *,
    pool: SolvePool,
    limits: Limits,
    accepted: Sequence[str] = (JSON,),
    form: Form = AS_JSON,
) -> Response[bytes]:
    """Receive the body, let a worker make an answer of it, and send that.

    The event loop belongs to everyone: it looks for the time limit in the body and at nothing else.

    Raises:
        Refusal: 415, the body is of another type; or whatever ``work`` refuses.
        BusyError: no worker was free in time.
        ClientGoneError: the client is gone.
    """
    body = await read_document(request, accepted)
    received = time.monotonic()
    running = pool.run(
        lambda turn: _worked(body, work, form, turn, current_line()),
        client=client_of(request),
        limit_ms=time_limit_of(body, limits),
        received=received,
    )
    return Response(await unless_gone(request.receive, running), media_type=form.media_type)


def _worked(body: bytes, work: Work, form: Form, turn: Turn, line: CanonicalLine) -> bytes:
    """The answer as bytes; notes what it cost in the log line."""
    line.waited_ms = round(turn.waited_ms, 2)
    cpu, memory = time.thread_time(), resident_mb()
    try:
        return form.encode(work(body, turn))
    except (Refusal, InputError):
        # Told to end, a search has no time left, and may take that for a fault of the request.
        if turn.cancel.cancelled:
            turn.refuse_if_cut()
        raise
    finally:
        line.cpu_ms = round((time.thread_time() - cpu) * 1000, 2)
        if memory is not None and (now := resident_mb()) is not None:
            line.memory_mb, line.memory_grown_mb = round(now, 1), round(now - memory, 1)
