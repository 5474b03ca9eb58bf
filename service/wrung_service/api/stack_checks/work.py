"""From the body of ``POST /v1/stack-checks`` to its answer, whoever asks."""

import msgspec
from msgspec import UNSET, Raw, Struct, UnsetType

from wrung.errors import InputError
from wrung_service.api.decoding import BYTE_ORDER_MARK, BodyDecoder, check_values
from wrung_service.api.problem_types import BODY_TOO_LARGE
from wrung_service.api.problems import Refusal, refuse_if_any
from wrung_service.api.records.answer import (
    RECORD_TIMES,
    RecordCheckAnswer,
    RecordCheckRequest,
)
from wrung_service.api.records.checking import RecordCheck
from wrung_service.api.stack_checks.answer import StackCheckAnswer
from wrung_service.api.stack_checks.reading import published_check_limits, read_stack_check
from wrung_service.api.stack_checks.request import StackCheckRequest
from wrung_service.api.stack_checks.writing import write_check
from wrung_service.api.stacks.reading import Clock
from wrung_service.observe.lines import current_line
from wrung_service.pool import Turn
from wrung_service.settings import Limits
from wrung_service.usecases.check_built_stack import check_built_stack
from wrung_service.usecases.refused import NoteRefusedClaims
from wrung_service.usecases.solve_stacks import Solve


class _Asked(Struct, frozen=True, kw_only=True):
    """What tells a record from a stack built by hand."""

    record: Raw | UnsetType = UNSET


class AnyCheckWork:
    """Checks stacks built by hand, or records, whichever a body holds."""

    def __init__(self, solve: Solve, limits: Limits, clock: Clock, note: NoteRefusedClaims) -> None:
        self._stacks = StackCheckWork(solve, limits, clock, note)
        self._records = RecordCheck(limits, clock)
        self._most_bytes = limits.max_body_bytes
        self._asked = msgspec.json.Decoder(_Asked)
        self._decoder = BodyDecoder(RecordCheckRequest, {}, RECORD_TIMES * limits.max_body_bytes)

    def __call__(
        self, body: bytes, turn: Turn, language: str | None = None
    ) -> StackCheckAnswer | RecordCheckAnswer:
        """The answer to a body; of a record in the language, or else in that of its request.

        Raises:
            Refusal: with everything that is wrong with it.
        """
        check_values(body, RECORD_TIMES * self._most_bytes)
        if not self._of_record(body):
            if len(body) > self._most_bytes:
                detail = f"The body is larger than {self._most_bytes} bytes."
                raise Refusal(BODY_TOO_LARGE, detail)
            return self._stacks(body, turn)
        answer = self._records(self._decoder.decode(body).record, language)
        current_line().outcome = "holds" if answer.holds else "differs"
        return answer

    def _of_record(self, body: bytes) -> bool:
        try:
            return self._asked.decode(body.removeprefix(BYTE_ORDER_MARK)).record is not UNSET
        # Whatever is wrong with it is said by the decoder of stacks, with a pointer.
        except (msgspec.DecodeError, UnicodeDecodeError, RecursionError):
            return False


class StackCheckWork:
    """Reads, checks and writes; made once, as its decoder takes a moment."""

    def __init__(self, solve: Solve, limits: Limits, clock: Clock, note: NoteRefusedClaims) -> None:
        self._solve, self._limits, self._clock = solve, limits, clock
        self._note = note
        self._decoder = BodyDecoder(
            StackCheckRequest, published_check_limits(limits), limits.max_body_bytes
        )

    def __call__(self, body: bytes, turn: Turn) -> StackCheckAnswer:
        """The answer to a body.

        Raises:
            Refusal: with everything that is wrong with it.
        """
        reading = read_stack_check(self._decoder.decode(body), self._limits, self._clock())
        line = current_line()
        line.blocks, line.targets = len(reading.query.shelf), 1
        try:
            checked = check_built_stack(
                reading.query, turn=turn, solve=self._solve, note=self._note
            )
        except InputError as error:
            refuse_if_any(reading.faults(error))
            # An error that names no fault goes on, and is answered as a fault of ours.
            raise
        line.outcome = "passed" if checked.check.passed else "failed"
        return write_check(checked, reading, waited_ms=turn.waited_ms)
