"""Survey what an inventory covers, let no wrong answer out, and draw it if that is wanted."""

from typing import Final

from msgspec import Struct

from wrung import Coverage, coverage_of
from wrung.checker.coverage import verify_coverage
from wrung.coverage.picture import draw
from wrung_service.pool import Turn
from wrung_service.usecases.coverage_query import CoverageQuery
from wrung_service.usecases.refused import refuse_if_broken

_SHARE_OF_SURVEY: Final = 0.9
"""The rest of the time limit is for the check, for drawing and for writing."""
_CHECK_MS_A_POINT: Final = 0.08e-3
_PICTURE_MS_A_POINT: Final = 0.04e-3
"""As measured; where that is more than the rest, it is taken off the survey."""
_LEAST_MS: Final = 1.0


class SurveyedCoverage(Struct, frozen=True, kw_only=True):
    """What was found, and its drawing; None where nobody asked or nothing was found."""

    coverage: Coverage
    picture: str | None


def survey_coverage(query: CoverageQuery, *, turn: Turn) -> SurveyedCoverage:
    """What the inventory of a query covers.

    Raises:
        InputError: the query contradicts itself, or makes more lengths than can be looked at.
        BusyError: waiting left too little time, or the service is stopping.
        AnswerRefusedError: the answer is wrong; that is a fault of this program.
    """
    found = coverage_of(
        query.blocks,
        query.grid,
        max_blocks=query.max_blocks,
        wear_blocks=query.wear_blocks,
        exclude=query.exclude,
        only=query.only,
        offers=query.offers,
        max_runs=query.max_runs,
        max_gaps=query.max_gaps,
        time_limit_ms=_time_for_survey_ms(query, turn.time_for_search_ms()),
        cancel=turn.cancel,
    )
    if found.outcome == "unknown":
        turn.refuse_if_cut()
    _check(found, query)
    return SurveyedCoverage(coverage=found, picture=_picture(found, query))


def _time_for_survey_ms(query: CoverageQuery, left_ms: float) -> float:
    """What of the time the survey may take; without any, it says that nothing is known."""
    each = _CHECK_MS_A_POINT + (_PICTURE_MS_A_POINT if query.picture else 0)
    grid = query.grid
    # The grid is not checked yet: what makes no sense is refused by the survey, at once.
    after = (grid.stop - grid.start) / max(grid.step, 1) * each
    return max(_LEAST_MS, min(left_ms * _SHARE_OF_SURVEY, left_ms - after))


def _check(found: Coverage, query: CoverageQuery) -> None:
    breaches = verify_coverage(
        query.blocks,
        found,
        wear_blocks=query.wear_blocks,
        exclude=query.exclude,
        only=query.only,
    )
    refuse_if_broken(breaches)


def _picture(found: Coverage, query: CoverageQuery) -> str | None:
    if found.reach is None or not query.picture:
        return None
    return draw(
        found.grid,
        found.reach,
        max_blocks=found.max_blocks,
        unit=query.unit,
        language=query.language,
    )
