"""Survey what an inventory covers, let no wrong answer out, and draw it if that is wanted."""

from typing import Final

from msgspec import Struct

from wrung import Coverage, coverage_of
from wrung.coverage.picture import draw
from wrung.verified_coverage import verify_coverage
from wrung_service.pool import Turn
from wrung_service.usecases.coverage_query import CoverageQuery
from wrung_service.usecases.refused import refuse_if_broken

_SHARE_OF_SURVEY: Final = 0.9
"""The rest of the time limit is for the check, for drawing and for writing."""


class SurveyedCoverage(Struct, frozen=True, kw_only=True):
    """What was found, and its drawing; None where nobody asked or nothing was found."""

    coverage: Coverage
    picture: str | None


def survey_coverage(query: CoverageQuery, *, turn: Turn) -> SurveyedCoverage:
    """What the inventory of a query covers.

    Raises:
        InputError: the query contradicts itself, or makes more lengths than can be looked at.
        BusyError: waiting left too little time, or the service is ending.
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
        time_limit_ms=turn.time_for_search_ms() * _SHARE_OF_SURVEY,
        cancel=turn.cancel,
    )
    if found.outcome == "unknown":
        turn.refuse_if_cut()
    _check(found, query)
    return SurveyedCoverage(coverage=found, picture=_picture(found, query))


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
