"""From the body of ``POST /v1/stacks`` to its answer, whoever asks: the service or a command."""

from collections.abc import Sequence
from datetime import datetime

from msgspec import Struct
from msgspec.structs import replace

from wrung.answers import Answer
from wrung.errors import InputError
from wrung_service.api.crib.reading import CribReading, Needs, read_crib
from wrung_service.api.crib.recording import as_recorded
from wrung_service.api.crib.request import CribOnRequest
from wrung_service.api.decoding import BodyDecoder
from wrung_service.api.faults import Faults
from wrung_service.api.problems import refuse_if_any
from wrung_service.api.records.shape import StackRecord
from wrung_service.api.records.writing import write_record
from wrung_service.api.stacks.answer import StackAnswer
from wrung_service.api.stacks.guarding import with_guard_bands
from wrung_service.api.stacks.reading import (
    Clock,
    LookInto,
    StackReading,
    published_limits,
    read_stack_request,
)
from wrung_service.api.stacks.request import StackRequest
from wrung_service.api.stacks.writing import write_answer
from wrung_service.observe.lines import current_line
from wrung_service.pool import Turn
from wrung_service.settings import Limits
from wrung_service.usecases.crib_shelf import LookUp
from wrung_service.usecases.refused import NoteRefusedClaims
from wrung_service.usecases.solve_stacks import Solve, SolvedStacks, solve_stacks


class Worked(Struct, frozen=True, kw_only=True):
    """A request that was read and solved, and its answer."""

    reading: StackReading
    solved: SolvedStacks
    answer: StackAnswer

    def record(self, now: datetime) -> StackRecord:
        """What is to be kept of it."""
        stacks = self.solved.answer.stacks
        recorded = as_recorded(self.reading, stacks)
        return write_record(recorded, stacks, self.solved.judged, now)


class Worker(Struct, frozen=True, kw_only=True):
    """What it takes to answer requests for stacks."""

    solve: Solve
    limits: Limits
    note: NoteRefusedClaims

    def work_out(
        self,
        asked: StackRequest,
        turn: Turn,
        now: datetime,
        look_into: LookInto | None,
        *,
        share: float = 1.0,
    ) -> Worked:
        """Read, plan, check and write; ``share`` is how much of the time left that may take.

        The request of what is returned has the guard bands that were found.

        Raises:
            Refusal: with everything that is wrong with the request.
        """
        reading = read_stack_request(asked, self.limits, now, look_into)
        _note_question(reading)
        try:
            solved = solve_stacks(
                reading.query, turn=turn, solve=self.solve, note=self.note, share=share
            )
        except InputError as error:
            refuse_if_any(reading.faults(error))
            # An error that names no fault goes on, and is answered as a fault of ours.
            raise
        _note_answer(solved.answer)
        reading = with_guard_bands(reading, solved)
        answer = write_answer(solved, reading, waited_ms=turn.waited_ms)
        return Worked(reading=reading, solved=solved, answer=answer)


class StackWork:
    """Reads, plans, checks and writes; made once, as its decoder takes a moment."""

    def __init__(
        self,
        solve: Solve,
        limits: Limits,
        clock: Clock,
        note: NoteRefusedClaims,
        look_up: LookUp | None = None,
    ) -> None:
        """``look_up`` looks into the crib; without it there is none."""
        self._worker = Worker(solve=solve, limits=limits, note=note)
        self._clock, self._look_up = clock, look_up
        self._decoder = BodyDecoder(StackRequest, published_limits(limits), limits.max_body_bytes)

    def __call__(self, body: bytes, turn: Turn, *, record: bool = False) -> StackAnswer:
        """The answer to a body, with a record if it or ``record`` asks for one.

        Raises:
            Refusal: with everything that is wrong with it.
        """
        now = self._clock()
        sent = self._decoder.decode(body)
        asked = replace(sent, record=sent.record or record)
        worked = self._worker.work_out(asked, turn, now, self._look_into)
        if not asked.record:
            return worked.answer
        return replace(worked.answer, record=worked.record(now))

    def _look_into(
        self, crib: CribOnRequest, needs: Sequence[Needs], now: datetime, faults: Faults
    ) -> CribReading:
        return read_crib(crib, needs, self._look_up, now, faults)


def _note_question(reading: StackReading) -> None:
    line = current_line()
    line.blocks = len(reading.query.blocks)
    line.targets = len(reading.query.targets)


def _note_answer(answer: Answer) -> None:
    line = current_line()
    line.outcome = answer.outcome
    line.solve_ms = round(answer.solve_ms, 2)
