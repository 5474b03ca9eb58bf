"""A job as it was: its plans with every record, what went out for them, and what history says."""

from datetime import datetime

from msgspec import Struct

from wrung_service.store.engine import Store
from wrung_service.store.entries import EntryFilter, entries_of
from wrung_service.store.errors import UnknownError
from wrung_service.store.history import Entry
from wrung_service.store.past_plans import PastPlan, plans_of_job
from wrung_service.store.plans import risks_of
from wrung_service.store.shelves import time_zone_of
from wrung_service.usecases.keep_plans import expire_plans


class PastJob(Struct, frozen=True, kw_only=True):
    """A job; ``at_risk`` has, by plan, the blocks that it will not have."""

    plans: tuple[PastPlan, ...]
    at_risk: dict[str, tuple[str, ...]]
    history: tuple[Entry, ...]


def look_back(store: Store, site: str, job: str, now: datetime) -> PastJob:
    """Everything that is kept of a job.

    Raises:
        UnknownError: there is no such site, or nothing was ever done for such a job.
        UnavailableError: the database does not do its work now.
    """
    expire_plans(store, site, now)
    with store.reading() as connection:
        time_zone_of(connection, site)
        plans = plans_of_job(connection, site, job)
        entries = entries_of(connection, site, EntryFilter(job=job))
        at_risk = risks_of(connection, [each.plan.id for each in plans])
    if not plans and not entries:
        raise UnknownError("job", job)
    return PastJob(plans=plans, at_risk=at_risk, history=entries)


def list_entries(
    store: Store, site: str, wanted: EntryFilter, *, after: int, limit: int
) -> tuple[Entry, ...]:
    """Entries of the site's history.

    Raises:
        UnknownError: there is no such site.
        UnavailableError: the database does not do its work now.
    """
    with store.reading() as connection:
        time_zone_of(connection, site)
        return entries_of(connection, site, wanted, after=after, limit=limit)
