"""From the body of ``POST /v1/coverage`` to what the library is asked."""

from datetime import date, datetime

from msgspec import Struct
from msgspec.structs import replace

from wrung.coverage import LengthGrid
from wrung.errors import InputError
from wrung.metrology import sort_by_due
from wrung_service.api.close_look import check_limit
from wrung_service.api.coverage.offers import Offers, read_offers
from wrung_service.api.coverage.request import CoverageRequest
from wrung_service.api.crib.reading import CRIB, check_number, check_place_of_blocks, read_crib
from wrung_service.api.faults import Faults
from wrung_service.api.metrology.calibration import read_day
from wrung_service.api.problems import refuse_if_any
from wrung_service.api.stacks.lengths import LengthReader
from wrung_service.api.stacks.shelf import BlockNames, Shelf, read_shelf, shelf_of
from wrung_service.api.words import check_language
from wrung_service.settings import Limits
from wrung_service.usecases.coverage_query import CoverageQuery
from wrung_service.usecases.crib_shelf import LookUp


class CoverageReading(Struct, frozen=True, kw_only=True):
    """A body that was read: the question, and what is needed to word answer and faults."""

    body: CoverageRequest
    shelf: Shelf
    offers: Offers | None
    query: CoverageQuery

    def faults(self, error: InputError) -> Faults:
        """What the library found wrong, with pointers into the body as it was sent."""
        faults = Faults()
        for fault in error.faults:
            at = self.shelf.as_sent(fault.pointer)
            faults.meaningless(self.offers.as_sent(at) if self.offers else at, fault.detail)
        return faults


def published_coverage_limits(limits: Limits) -> dict[str, int]:
    """By member of the body: most elements of an array, greatest value of an integer."""
    blocks = limits.max_blocks
    return {
        "blocks": blocks,
        "sets": blocks,
        "exclude": blocks,
        "only": blocks,
        "time_limit_ms": limits.max_time_limit_ms,
    }


def read_coverage_request(
    body: CoverageRequest, limits: Limits, now: datetime, look_up: LookUp | None = None
) -> CoverageReading:
    """Turn a body into the library's nouns; ``now`` is the day of use if it states none.

    Raises:
        Refusal: with everything found wrong on the way.
    """
    faults = Faults()
    # A body that decodes at once was not looked at closely, so its limits are still unchecked.
    # `or 0` stands for members that are null.
    for member, most in published_coverage_limits(limits).items():
        check_limit(getattr(body, member) or 0, most, (member,), faults)
    refuse_if_any(faults)
    shelf, today = _shelf(body, limits, now, look_up, faults)
    offers = None if body.offers is None else read_offers(body.offers, body.unit, faults)
    used_on = read_day(body.used_on, ("used_on",), faults) or today
    query = _query(body, shelf, offers, limits, faults)
    refuse_if_any(faults)
    query = _without_overdue(query, used_on, allow_overdue=body.allow_overdue)
    return CoverageReading(body=body, shelf=shelf, offers=offers, query=query)


def _shelf(
    body: CoverageRequest, limits: Limits, now: datetime, look_up: LookUp | None, faults: Faults
) -> tuple[Shelf, date]:
    """The blocks, and the day of use unless another is stated."""
    if body.crib is None:
        return read_shelf(body, limits.max_blocks, faults), now.date()
    check_place_of_blocks(named=bool(body.blocks or body.sets), faults=faults)
    crib = read_crib(body.crib, (), look_up, now, faults)
    taken = crib.shelf.taken_in(crib.window)
    free = [block for block in crib.shelf.blocks if block.id not in taken]
    check_number(free, limits.max_blocks, faults)
    return shelf_of(free, CRIB), crib.day_of_use([crib.window])


def _query(
    body: CoverageRequest, shelf: Shelf, offers: Offers | None, limits: Limits, faults: Faults
) -> CoverageQuery:
    names = BlockNames(shelf)
    check_language(body.language, faults)
    return CoverageQuery(
        blocks=shelf.blocks,
        grid=_grid(body, LengthReader(faults)),
        max_blocks=body.max_blocks,
        wear_blocks=body.wear_blocks,
        exclude=tuple(names.resolve(name) for name in body.exclude),
        only=None if body.only is None else tuple(names.resolve(name) for name in body.only),
        offers=None if offers is None else offers.blocks,
        max_runs=body.max_runs,
        max_gaps=body.max_gaps,
        time_limit_ms=body.time_limit_ms or limits.default_time_limit_ms,
        picture=body.picture,
        unit=body.unit,
        language=body.language,
    )


def _grid(body: CoverageRequest, reader: LengthReader) -> LengthGrid:
    lengths = body.range
    return LengthGrid(
        start=reader.required(lengths.start, body.unit, ("range", "start")),
        stop=reader.required(lengths.stop, body.unit, ("range", "stop")),
        step=reader.required(lengths.step, body.unit, ("range", "step")),
    )


def _without_overdue(query: CoverageQuery, used_on: date, *, allow_overdue: bool) -> CoverageQuery:
    """The query without blocks overdue on that day, if any block has dates."""
    if not any(block.calibration for block in query.blocks):
        return query
    due = sort_by_due(query.blocks, used_on, allow_overdue=allow_overdue)
    # Excluded, not taken out: pointers count the blocks as they were sent.
    exclude = (*query.exclude, *(block.id for block in due.left_out))
    return replace(query, exclude=exclude, left_out=due.left_out, used_on=used_on)
