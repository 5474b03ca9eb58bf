"""From the body of ``POST /v1/stack-checks`` to what the library is asked."""

from datetime import date, datetime

from msgspec import Struct
from msgspec.structs import replace

from wrung.blocks import DEFAULT_JOINT_ALLOWANCE
from wrung.errors import InputError
from wrung.lengths import SMALL_UNIT
from wrung.metrology import Instrument, sort_by_due
from wrung.metrology.readings import check_instruments
from wrung_service.api.close_look import check_limit
from wrung_service.api.faults import Faults
from wrung_service.api.metrology.conditions import read_conditions
from wrung_service.api.metrology.tolerances import read_limits
from wrung_service.api.problems import refuse_if_any
from wrung_service.api.stack_checks.request import StackCheckRequest
from wrung_service.api.stacks.lengths import LengthReader
from wrung_service.api.stacks.shelf import BlockNames, Shelf, read_shelf
from wrung_service.api.wire_lengths import OPTIONAL
from wrung_service.api.words import check_language, degrees_of
from wrung_service.settings import Limits
from wrung_service.usecases.stack_check_query import StackCheckQuery


class StackCheckReading(Struct, frozen=True, kw_only=True):
    """A body that was read: the question, and what is needed to word answer and faults."""

    body: StackCheckRequest
    shelf: Shelf
    query: StackCheckQuery

    def faults(self, error: InputError) -> Faults:
        """What the library found wrong, with pointers into the body as it was sent."""
        faults = Faults()
        for fault in error.faults:
            faults.meaningless(self.shelf.as_sent(fault.pointer), fault.detail)
        return faults


def published_check_limits(limits: Limits) -> dict[str, int]:
    """By member of the body: most elements of an array, greatest value of an integer."""
    return {
        "blocks": limits.max_blocks,
        "sets": limits.max_blocks,
        "time_limit_ms": limits.max_time_limit_ms,
    }


def read_stack_check(body: StackCheckRequest, limits: Limits, now: datetime) -> StackCheckReading:
    """Turn a body into the library's nouns; ``now`` is the day of use if it states none.

    Raises:
        Refusal: with everything found wrong on the way.
    """
    faults = Faults()
    # A body that decodes at once was not looked at closely, so its limits are still unchecked.
    # `or 0` stands for members that are null.
    for member, most in published_check_limits(limits).items():
        check_limit(getattr(body, member) or 0, most, (member,), faults)
    refuse_if_any(faults)
    shelf = read_shelf(body, limits.max_blocks, faults)
    query = _query(body, shelf, limits, faults)
    refuse_if_any(faults)
    return StackCheckReading(body=body, shelf=shelf, query=_dated(query, now.date()))


def _query(
    body: StackCheckRequest, shelf: Shelf, limits: Limits, faults: Faults
) -> StackCheckQuery:
    check_language(body.language, faults)
    reader = LengthReader(faults)
    names = BlockNames(shelf)
    check_language(body.language, faults)
    allowance = reader.optional(
        body.joint_allowance, SMALL_UNIT[body.unit], ("joint_allowance",), OPTIONAL
    )
    limits_of_part = body.part_limits
    return StackCheckQuery(
        shelf=shelf.blocks,
        usable=shelf.blocks,
        stack=tuple(names.resolve(name) for name in body.stack),
        length=reader.required(body.length, body.unit, ("length",)),
        conditions=read_conditions(
            body.conditions, body.unit, degrees_of(body.temperature_unit), faults
        ),
        joint_allowance=DEFAULT_JOINT_ALLOWANCE if allowance is None else allowance,
        instruments=_instruments(body, reader, faults),
        purpose=read_limits(limits_of_part, body.unit, ("part_limits",), faults)
        if limits_of_part
        else None,
        find_better_stacks=body.find_better_stacks,
        time_limit_ms=body.time_limit_ms or limits.default_time_limit_ms,
        memory_limit_mb=limits.search_memory_mb,
    )


def _instruments(
    body: StackCheckRequest, reader: LengthReader, faults: Faults
) -> tuple[Instrument, ...]:
    instruments = tuple(
        Instrument(
            name=each.name,
            resolution=reader.required(
                each.resolution, body.unit, ("instruments", index, "resolution")
            ),
            permissible_error=reader.optional(
                each.permissible_error,
                body.unit,
                ("instruments", index, "permissible_error"),
                OPTIONAL,
            )
            or 0,
        )
        for index, each in enumerate(body.instruments)
    )
    try:
        # Now, and not only in the check: so it is told with everything else.
        check_instruments(instruments)
    except InputError as error:
        for fault in error.faults:
            faults.meaningless(fault.pointer, fault.detail)
    return instruments


def _dated(query: StackCheckQuery, today: date) -> StackCheckQuery:
    """The query with its day of use, if that plays a part, and what is not overdue on it."""
    if not any(block.calibration for block in query.shelf):
        return query
    used_on = query.conditions.used_on or today
    conditions = replace(query.conditions, used_on=used_on)
    # The shelf stays whole: the stack may hold an overdue block, and the check has to say so.
    usable = sort_by_due(query.shelf, used_on).usable
    return replace(query, conditions=conditions, usable=usable)
