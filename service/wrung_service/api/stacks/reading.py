"""From the body of ``POST /v1/stacks`` to what the library is asked."""

from collections.abc import Callable, Iterable, Sequence, Sized
from datetime import date, datetime
from typing import TypeAlias

from msgspec import Struct
from msgspec.structs import replace

from wrung.blocks import DEFAULT_JOINT_ALLOWANCE
from wrung.choices import alternatives_faults
from wrung.errors import InputError
from wrung.keeping import kept
from wrung.lengths import SMALL_UNIT
from wrung.metrology import day_of_use, sort_by_due
from wrung.preferences import preference_faults
from wrung.targets import Target
from wrung.targets.steps import at_usual_step
from wrung_service.api.close_look import check_limit
from wrung_service.api.crib.reading import (
    CRIB,
    CribReading,
    Needs,
    check_number,
    check_place_of_blocks,
    read_crib,
)
from wrung_service.api.crib.request import CribOnRequest
from wrung_service.api.faults import Faults
from wrung_service.api.metrology.budgets import BudgetDetail
from wrung_service.api.metrology.conditions import read_conditions
from wrung_service.api.metrology.measures import read_measure
from wrung_service.api.metrology.tolerances import read_ratios, read_tolerances
from wrung_service.api.problems import refuse_if_any
from wrung_service.api.stacks.lengths import LengthReader
from wrung_service.api.stacks.preferences import read_preferences
from wrung_service.api.stacks.request import StackRequest
from wrung_service.api.stacks.shelf import BlockNames, Shelf, read_shelf, shelf_of
from wrung_service.api.stacks.targets import in_time, read_targets, stack_names
from wrung_service.api.wire_lengths import OPTIONAL
from wrung_service.api.words import check_language, degrees_of
from wrung_service.settings import Limits
from wrung_service.usecases.solve_apart import parts_of
from wrung_service.usecases.stack_query import StackPurpose, StackQuery, query_faults


class StackReading(Struct, frozen=True, kw_only=True):
    """A body that was read: the question, and what is needed to word answer and faults."""

    body: StackRequest
    shelf: Shelf
    query: StackQuery

    def faults(self, error: InputError) -> Faults:
        """What the library found wrong, with pointers into the body as it was sent."""
        faults = Faults()
        for fault in error.faults:
            faults.meaningless(self.shelf.as_sent(fault.pointer), fault.detail)
        return faults


LookInto: TypeAlias = Callable[[CribOnRequest, Sequence[Needs], datetime, Faults], CribReading]
"""What the crib has that a body names, at the times that the body needs it."""
Clock: TypeAlias = Callable[[], datetime]
"""Tells the time; blocks without a stated day of use are used today."""


def published_limits(limits: Limits) -> dict[str, int]:
    """By member of the body: most elements of an array, greatest value of an integer."""
    blocks = limits.max_blocks
    return {
        "blocks": blocks,
        "sets": blocks,
        "targets": limits.max_targets,
        "part_tolerances": limits.max_targets,
        "exclude": blocks,
        "only": blocks,
        "time_limit_ms": limits.max_time_limit_ms,
    }


def read_stack_request(
    body: StackRequest, limits: Limits, now: datetime, look_into: LookInto | None = None
) -> StackReading:
    """Turn a body into the library's nouns; ``now`` is the day of use if it states none.

    ``look_into`` gives what the crib has that the body names.

    Raises:
        Refusal: with everything found wrong on the way.
    """
    faults = Faults()
    _check_limits(body, limits, faults)
    refuse_if_any(faults)
    crib = None if body.crib is None else _crib(body, body.crib, now, look_into, faults)
    shelf = _shelf(body, crib, limits, faults)
    query = _query(body, shelf, limits, faults)
    if crib is not None:
        query = _in_time_of_crib(query, crib, faults)
    if faults.found:
        # There will be no search to tell what else is wrong, so the library is asked now.
        _add_faults_of(query, shelf, faults)
    refuse_if_any(faults)
    day = _last_day(query.targets, now) if crib is None else crib.day_of_use(query.windows)
    query = _without_overdue(query, day, allow_overdue=body.allow_overdue)
    # Only now: blocks drift up to the day of use, which was not known before.
    measure = replace(query.error_measure, conditions=query.conditions)
    query = replace(query, error_measure=measure)
    return StackReading(body=body, shelf=shelf, query=query)


def _crib(
    body: StackRequest,
    crib: CribOnRequest,
    now: datetime,
    look_into: LookInto | None,
    faults: Faults,
) -> CribReading:
    check_place_of_blocks(named=bool(body.blocks or body.sets), faults=faults)
    needs = [
        Needs(
            at=("targets", place),
            needed_from=getattr(target, "needed_from", None),
            needed_until=getattr(target, "needed_until", None),
        )
        for place, target in enumerate(body.targets)
    ]
    if look_into is None:
        return read_crib(crib, needs, None, now, faults)
    return look_into(crib, needs, now, faults)


def _shelf(body: StackRequest, crib: CribReading | None, limits: Limits, faults: Faults) -> Shelf:
    if crib is None:
        return read_shelf(body, limits.max_blocks, faults)
    check_number(crib.shelf.blocks, limits.max_blocks, faults)
    return shelf_of(crib.shelf.blocks, CRIB)


def _in_time_of_crib(query: StackQuery, crib: CribReading, faults: Faults) -> StackQuery:
    """The query with the time of need of every target, and what is taken then."""
    windows = tuple(map(crib.window_of, query.targets))
    if query.trade_off and len(parts_of(windows)) > 1:
        faults.meaningless("/trade_off", "needs targets that are all needed at one time")
    for fault in preference_faults(query.preferences, crib.shelf.sets):
        faults.meaningless(fault.pointer, fault.detail)
    if not {*query.exclude, *(query.only or ())} <= crib.shelf.versions.keys():
        # Searched part by part, each with other blocks, so no search would say it.
        for fault in query_faults(query):
            faults.meaningless(fault.pointer, fault.detail)
    return replace(
        query, crib=crib.shelf, windows=windows, targets=tuple(map(crib.timed, query.targets))
    )


def _check_limits(body: StackRequest, limits: Limits, faults: Faults) -> None:
    # A body that decodes at once was not looked at closely, so its limits are still unchecked.
    # `or 0` stands for members that are null.
    for member, most in published_limits(limits).items():
        check_limit(getattr(body, member) or 0, most, (member,), faults)


def _query(body: StackRequest, shelf: Shelf, limits: Limits, faults: Faults) -> StackQuery:
    names = BlockNames(shelf)
    allowance = LengthReader(faults).optional(
        body.joint_allowance, SMALL_UNIT[body.unit], ("joint_allowance",), OPTIONAL
    )
    targets = _targets(body, shelf, limits, faults)
    names_of_stacks = stack_names(targets)
    purposes = read_tolerances(body.part_tolerances, names_of_stacks, body.unit, faults)
    measure = read_measure(body.error_measure)
    ratios = read_ratios(body.part_tolerances, purposes, measure, faults)
    return StackQuery(
        blocks=shelf.blocks,
        targets=targets,
        objective=body.objective,
        joint_allowance=DEFAULT_JOINT_ALLOWANCE if allowance is None else allowance,
        exclude=tuple(names.resolve(name) for name in body.exclude),
        only=None if body.only is None else tuple(names.resolve(name) for name in body.only),
        time_limit_ms=body.time_limit_ms or limits.default_time_limit_ms,
        memory_limit_mb=limits.search_memory_mb,
        conditions=read_conditions(
            body.conditions, body.unit, degrees_of(body.temperature_unit), faults
        ),
        budgets=budget_detail(body) != "none",
        purposes=tuple(
            StackPurpose(target=name.target, role=name.role, purpose=each)
            for name, each in purposes.items()
        ),
        left_out=(),
        handwork=body.unit if body.handwork else None,
        error_measure=measure,
        preferences=read_preferences(body.preferences),
        required_ratios=ratios,
        alternatives=_alternatives(body, names_of_stacks, faults),
        trade_off=body.trade_off,
    )


def _alternatives(body: StackRequest, stacks: Sized, faults: Faults) -> int:
    """How many are asked for, if the targets can be read and come to a single stack."""
    if body.alternatives is None:
        return 0
    if not faults.found:
        for fault in alternatives_faults(body.alternatives, len(stacks)):
            faults.meaningless(fault.pointer, fault.detail)
    return body.alternatives


def _targets(
    body: StackRequest, shelf: Shelf, limits: Limits, faults: Faults
) -> tuple[Target, ...]:
    check_language(body.language, faults)
    read = at_usual_step(read_targets(body, faults), shelf.blocks, body.unit)
    targets = in_time(body, read, faults)
    # Counted by stack, because one target may need very many.
    if (stacks := len(stack_names(targets))) > limits.max_targets:
        detail = f"need {stacks} stacks in all, more than {limits.max_targets}"
        faults.meaningless("/targets", detail)
    return targets


def _add_faults_of(query: StackQuery, shelf: Shelf, faults: Faults) -> None:
    """What the library would refuse besides, unless a fault of the body may be why."""
    spoilt = {_item(fault.pointer) for fault in faults.found}
    if any(item.startswith("/sets") for item in spoilt):
        spoilt |= {"/exclude", "/only"}  # the ids may be those of blocks that were not listed
    for fault in query_faults(query):
        at = shelf.as_sent(fault.pointer)
        if spoilt.isdisjoint((_item(at), _member(at))):
            faults.meaningless(at, fault.detail)


def _item(at: str) -> str:
    """The block, the set or the target that a pointer leads into."""
    return "/".join(at.split("/")[:3])


def _member(at: str) -> str:
    return "/".join(at.split("/")[:2])


def budget_detail(body: StackRequest) -> BudgetDetail:
    """How much of its budget each stack shows."""
    return body.budget or ("totals" if body.conditions else "none")


def _without_overdue(query: StackQuery, day: date, *, allow_overdue: bool) -> StackQuery:
    """The query with its day of use, if that plays a part, and without blocks overdue on it."""
    used_on = query.conditions.used_on or day
    # Without dates the answer must not depend on the day on which it is asked for.
    blocks = query.blocks
    if not kept(blocks, "calibrated", lambda: any(block.calibration for block in blocks)):
        return query
    due = sort_by_due(query.blocks, used_on, allow_overdue=allow_overdue)
    return replace(
        query,
        conditions=replace(query.conditions, used_on=used_on),
        left_out=due.left_out,
    )


def _last_day(targets: Iterable[Target], now: datetime) -> date:
    try:
        return day_of_use([each for target in targets for each in target.requirements()], now)
    except (InputError, TypeError):
        return now.date()  # times that make no sense, which the search will say with a pointer
