"""A site as people look at it: a set in its case, what is out, what is due, and a shift."""

from collections.abc import Callable, Iterable, Mapping
from datetime import datetime, timedelta
from typing import Final

import sqlalchemy as sa
from msgspec import Struct

from wrung_service.store.blocks import (
    BlockFilter,
    Condition,
    KeptBlock,
    find_blocks,
    list_blocks,
)
from wrung_service.store.bookings import Booking, bookings
from wrung_service.store.engine import Store
from wrung_service.store.pages import Place
from wrung_service.store.plans import PlanFilter, PlanHead, plan_head, plans_of
from wrung_service.store.risks import Risk, open_risks
from wrung_service.store.sets import StoredSet, find_set, list_sets
from wrung_service.store.sites import Site, get_site
from wrung_service.usecases.keep_plans import expire_plans

_MOST_SETS: Final = 500
_MOST_BLOCKS: Final = 1000
_MOST_PLANS: Final = 500
_DUE_DAYS: Final = 400
"""Certificates are good for a year, as a rule."""
_MOMENT: Final = timedelta(seconds=1)
_UNFIT: Final[tuple[Condition, ...]] = ("missing", "at_calibration", "damaged", "retired")


class Shift(Struct, frozen=True, kw_only=True):
    """A span of time that is looked at."""

    starts_at: datetime
    ends_at: datetime


class CribSeen(Struct, frozen=True, kw_only=True):
    """What is to be seen of a site.

    Attributes:
        chosen: the set that is looked into; None: the blocks without a set.
        blocks: those of it.
        out: blocks that are lent.
        unfit: blocks that are not fit for use.
        dated: blocks that are due for calibration within some 13 months, or were.
        booked: who has which block in the shift; ``now`` lies in some of them.
        named: blocks that ``booked`` speaks of, by id.
        plans: those of the shift, by their start.
        lent_for: the plans that blocks are out for, by id.
    """

    site: Site
    sets: tuple[StoredSet, ...]
    chosen: StoredSet | None
    blocks: tuple[KeptBlock, ...]
    out: tuple[KeptBlock, ...]
    unfit: tuple[KeptBlock, ...]
    dated: tuple[KeptBlock, ...]
    booked: tuple[Booking, ...]
    booked_now: tuple[Booking, ...]
    named: Mapping[str, KeptBlock]
    plans: tuple[PlanHead, ...]
    lent_for: Mapping[str, PlanHead]
    at_risk: tuple[Risk, ...]


def look_at_crib(
    store: Store, site: str, chosen: str | None, shift_in: Callable[[str], Shift], now: datetime
) -> CribSeen:
    """The site in one state.

    Args:
        store: the store.
        site: its id.
        chosen: the set to look into; the first one if there is none of that name.
        shift_in: the span of time to look at in a time zone, an IANA name.
        now: the moment.

    Raises:
        UnknownError: there is no such site.
        UnavailableError: the database does not do its work now.
    """
    expire_plans(store, site, now)
    with store.reading() as connection:
        at = get_site(connection, site)
        sets = list_sets(connection, site, Place(limit=_MOST_SETS)).items
        of_set = _chosen(sets, chosen)
        out = _all(connection, site, BlockFilter(out=True))
        shift = shift_in(at.time_zone)
        booked = bookings(connection, site, shift.starts_at, shift.ends_at)
        due_before = (now + timedelta(days=_DUE_DAYS)).date()
        return CribSeen(
            site=at,
            sets=sets,
            chosen=of_set,
            blocks=_in_case(connection, site, of_set),
            out=out,
            unfit=tuple(
                block
                for each in _UNFIT
                for block in _all(connection, site, BlockFilter(condition=each))
            ),
            dated=list_blocks(
                connection, site, BlockFilter(due_before=due_before), Place(limit=100_000)
            ).items,
            booked=booked,
            booked_now=bookings(connection, site, now, now + _MOMENT),
            named=find_blocks(connection, site, {each.block for each in booked}),
            plans=_plans(connection, site, shift),
            lent_for=_plans_of(connection, out),
            at_risk=open_risks(connection, site),
        )


class CasesSeen(Struct, frozen=True, kw_only=True):
    """Some sets of a site; ``blocks`` are those of each set, by its id."""

    sets: tuple[StoredSet, ...]
    blocks: Mapping[str, tuple[KeptBlock, ...]]
    booked_now: tuple[Booking, ...]


def look_at_cases(store: Store, site: str, names: Iterable[str], now: datetime) -> CasesSeen:
    """The sets of those names, in one state.

    Raises:
        UnavailableError: the database does not do its work now.
    """
    with store.reading() as connection:
        found = [find_set(connection, site, name) for name in names]
        sets = tuple(each for each in found if each is not None)
        return CasesSeen(
            sets=sets,
            blocks={each.id: _in_case(connection, site, each) for each in sets},
            booked_now=bookings(connection, site, now, now + _MOMENT),
        )


def _chosen(sets: Iterable[StoredSet], name: str | None) -> StoredSet | None:
    """The set of that name; an empty name means the blocks without a set."""
    if name == "":
        return None
    return next((each for each in sets if each.id == name), next(iter(sets), None))


def _in_case(
    connection: sa.Connection, site: str, of_set: StoredSet | None
) -> tuple[KeptBlock, ...]:
    if of_set is not None:
        return _all(connection, site, BlockFilter(set=of_set.id))
    held = list_blocks(connection, site, BlockFilter(), Place(limit=100_000)).items
    return tuple(each for each in held if each.block.set is None)[:_MOST_BLOCKS]


def _all(connection: sa.Connection, site: str, wanted: BlockFilter) -> tuple[KeptBlock, ...]:
    return list_blocks(connection, site, wanted, Place(limit=_MOST_BLOCKS)).items


def _plans(connection: sa.Connection, site: str, shift: Shift) -> tuple[PlanHead, ...]:
    wanted = PlanFilter(
        site=site,
        ending_after=shift.starts_at,
        starting_before=shift.ends_at,
        limit=_MOST_PLANS,
    )
    return plans_of(connection, wanted)


def _plans_of(connection: sa.Connection, out: Iterable[KeptBlock]) -> dict[str, PlanHead]:
    names = {each.out.plan for each in out if each.out is not None and each.out.plan is not None}
    return {name: plan_head(connection, name) for name in sorted(names)}
