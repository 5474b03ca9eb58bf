"""From the body of ``POST /v1/coverage`` to its answer, whoever asks."""

from wrung.errors import InputError
from wrung_service.api.coverage.answer import CoverageAnswer
from wrung_service.api.coverage.reading import published_coverage_limits, read_coverage_request
from wrung_service.api.coverage.request import CoverageRequest
from wrung_service.api.coverage.writing import write_coverage
from wrung_service.api.decoding import BodyDecoder
from wrung_service.api.problems import refuse_if_any
from wrung_service.api.stacks.reading import Clock
from wrung_service.observe.lines import current_line
from wrung_service.pool import Turn
from wrung_service.settings import Limits
from wrung_service.usecases.crib_shelf import LookUp
from wrung_service.usecases.survey_coverage import survey_coverage


class CoverageWork:
    """Reads, surveys, checks and writes; made once, as its decoder takes a moment."""

    def __init__(self, limits: Limits, clock: Clock, look_up: LookUp | None = None) -> None:
        """``look_up`` looks into the crib; without it there is none."""
        self._limits, self._clock, self._look_up = limits, clock, look_up
        self._decoder = BodyDecoder(
            CoverageRequest, published_coverage_limits(limits), limits.max_body_bytes
        )

    def __call__(self, body: bytes, turn: Turn) -> CoverageAnswer:
        """The answer to a body.

        Raises:
            Refusal: with everything that is wrong with it.
        """
        asked = self._decoder.decode(body)
        reading = read_coverage_request(asked, self._limits, self._clock(), self._look_up)
        line = current_line()
        line.blocks = len(reading.query.blocks)
        try:
            surveyed = survey_coverage(reading.query, turn=turn)
        except InputError as error:
            # Some faults show only in the survey, such as a step that is too fine.
            refuse_if_any(reading.faults(error))
            raise
        line.outcome = surveyed.coverage.outcome
        line.solve_ms = round(surveyed.coverage.solve_ms, 2)
        return write_coverage(surveyed, reading, waited_ms=turn.waited_ms)
