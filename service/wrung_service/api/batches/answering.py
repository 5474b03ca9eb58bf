"""What a worker answers to a request of a batch: what it would have been answered alone."""

import threading
import time
from collections.abc import Callable
from typing import Final

import msgspec

from wrung_service.api.batches.shapes import BatchResult
from wrung_service.api.callers import Caller, admit
from wrung_service.api.decoding import time_limit_of
from wrung_service.api.german import german_problem
from wrung_service.api.problem_types import WORKER_DIED
from wrung_service.api.problems import Refusal, as_problem
from wrung_service.api.refusals import refusal_of
from wrung_service.api.stacks.work import StackWork
from wrung_service.observe.lines import CanonicalLine, begin_line
from wrung_service.observe.logs import Log
from wrung_service.pool import Turn
from wrung_service.settings import Limits
from wrung_service.store.batches.answers import Answered
from wrung_service.store.batches.batches import Batch
from wrung_service.store.batches.chunks import Item
from wrung_service.store.errors import UnavailableError

_ENCODER: Final = msgspec.json.Encoder()
_OK: Final = 200
_DEADLY: Final = (
    "Workers that began this request died of it or with it, again and again. It is not tried any "
    "more; the log of the workers may say why."
)


class Answerer:
    """Answers requests of batches, each in the thread that asks; ends them all when told to."""

    def __init__(self, work: StackWork, limits: Limits, log: Log, prefix: str) -> None:
        self._work, self._limits, self._log, self._prefix = work, limits, log, prefix
        self._lock = threading.Lock()
        self._turns = dict[Turn, str]()
        self._ending = False

    def answer(self, batch: Batch, item: Item) -> Answered | None:
        """The answer; None if it was cut short.

        Raises:
            UnavailableError: the database is needed, and does not do its work now.
        """
        body = item.request.encode()
        turn = Turn(batch.id, time_limit_of(body, self._limits), time.monotonic())
        turn.begin(waited=False, retry_after=1)
        with self._lock:
            if self._ending:
                return None
            self._turns[turn] = batch.id
        try:
            answered = self._answered(batch, item, body, turn)
        finally:
            with self._lock:
                del self._turns[turn]
        # One that was cut short is not what the request gets when it has its time.
        return None if turn.cancel.cancelled else answered

    def answer_deadly(self, batch: Batch, item: Item) -> Answered:
        """The answer to a request that workers died of."""
        self._log.error("deadly_request", batch=batch.id, position=item.position)
        return self._failed(batch, item, Refusal(WORKER_DIED, _DEADLY))

    def running(self) -> frozenset[str]:
        """Ids of batches whose requests are being answered."""
        with self._lock:
            return frozenset(self._turns.values())

    def cut_short(self, wanted: Callable[[str], bool]) -> None:
        """End the searches of some batches."""
        with self._lock:
            turns = [turn for turn, of in self._turns.items() if wanted(of)]
        for each in turns:
            each.cancel.cancel()

    def end(self) -> None:
        """End all searches, and begin none."""
        with self._lock:
            self._ending = True
        self.cut_short(lambda _: True)

    def _answered(self, batch: Batch, item: Item, body: bytes, turn: Turn) -> Answered:
        admit(_caller(batch))
        begin_line(CanonicalLine(request_id=batch.request_id, method="POST"))
        try:
            result = BatchResult(
                position=item.position, status=_OK, answer=self._work(body, turn), problem=None
            )
            return Answered(position=item.position, line=_line(result), failed=False)
        except UnavailableError:
            raise
        except Exception as error:  # noqa: BLE001 - whatever it is, it is this request's answer
            return self._failed(batch, item, refusal_of(error, self._log))

    def _failed(self, batch: Batch, item: Item, refusal: Refusal) -> Answered:
        problem = as_problem(
            refusal,
            prefix=self._prefix,
            instance=f"/v1/batches/{batch.id}/results",
            request_id=batch.request_id,
        )
        if batch.language == "de":
            problem = german_problem(problem, refusal)
        result = BatchResult(
            position=item.position, status=problem.status, answer=None, problem=problem
        )
        return Answered(position=item.position, line=_line(result), failed=True)


def _line(result: BatchResult) -> str:
    return _ENCODER.encode(result).decode()


def _caller(batch: Batch) -> Caller:
    """Whoever posted it, as far as the batch may go."""
    sites = None
    if batch.sites is not None:
        sites = frozenset(msgspec.json.decode(batch.sites, type=list[str]))
    return Caller(name=batch.made_by, sites=sites, scopes=frozenset({"read"}))
