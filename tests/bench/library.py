"""Requests put to the library itself, without HTTP."""

import time
from collections.abc import Iterable, Iterator
from datetime import UTC, datetime

import wrung
from wrung_service.api.decoding import BodyDecoder
from wrung_service.api.stacks.reading import published_limits, read_stack_request
from wrung_service.api.stacks.request import StackRequest
from wrung_service.settings import Limits
from wrung_service.usecases.stack_query import StackQuery, options_of

from .report import Sample

_LIMITS = Limits()
_DECODER = BodyDecoder(StackRequest, published_limits(_LIMITS))


def samples(bodies: Iterable[bytes]) -> Iterator[Sample]:
    """Solve one after the other; the time is that of `wrung.solve` alone."""
    for query in [_read(body) for body in bodies]:
        start = time.perf_counter()
        answer = _solve(query)
        ms = (time.perf_counter() - start) * 1000
        proven = answer.proven and answer.objective_proven
        yield Sample(ms=ms, outcome=answer.outcome, proven=proven)


def _read(body: bytes) -> StackQuery:
    return read_stack_request(_DECODER.decode(body), _LIMITS, datetime.now(UTC)).query


def _solve(query: StackQuery) -> wrung.Answer:
    return wrung.solve(
        query.blocks,
        query.targets,
        **options_of(query),
        time_limit_ms=query.time_limit_ms,
    )
