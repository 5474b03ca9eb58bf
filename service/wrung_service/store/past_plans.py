"""Plans as they were: every record that a plan had, what it was promised, and what went out for it.

Nothing of this is ever changed: records stay with their plan, and history has those before.
"""

from collections.abc import Iterable
from datetime import datetime
from typing import Any, TypeVar

import msgspec
import sqlalchemy as sa
from msgspec import Raw, Struct

from wrung_service.store.errors import UnknownError
from wrung_service.store.loans import Loan
from wrung_service.store.plans import REPLANNED, PlanHead
from wrung_service.store.prepared import prepared
from wrung_service.store.tables import block, history, loan, plan, promise


class PastRecord(Struct, frozen=True, kw_only=True):
    """A record of a plan as JSON, and when another took its place; None: it is the last one."""

    record: Raw
    replaced_at: datetime | None


@prepared
class PastPromise(Struct, frozen=True, kw_only=True):
    """A block that a plan has or had, for a stack of its answer, with the pause after its use."""

    plan_id: str
    block_id: str
    stack: int
    starts_at: datetime
    ends_at: datetime


class PastPlan(Struct, frozen=True, kw_only=True):
    """A plan and everything that belonged to it; records and loans, the oldest first."""

    plan: PlanHead
    records: tuple[PastRecord, ...]
    promises: tuple[PastPromise, ...]
    loans: tuple[Loan, ...]


T = TypeVar("T", PastPromise, Loan)


_NONE = Raw(b"null")


class _Detail(Struct):
    replaced_record: Raw = _NONE


_DETAILS = msgspec.json.Decoder(_Detail)


def plans_of_job(connection: sa.Connection, site: str, job: str) -> tuple[PastPlan, ...]:
    """Every plan of a job, by the start of its need."""
    return _past(connection, sa.select(plan.c.id).where(plan.c.site_id == site, plan.c.job == job))


def plans_with_block(
    connection: sa.Connection, site: str, name: str, since: datetime
) -> tuple[PastPlan, ...]:
    """Every plan that has or had the block for a time that ends after ``since``.

    Also such that it was out for until then.
    """
    promised = sa.select(promise.c.plan_id).where(
        promise.c.site_id == site, promise.c.block_id == name, promise.c.ends_at > since
    )
    lent = sa.select(loan.c.plan_id).where(
        loan.c.site_id == site,
        loan.c.block_id == name,
        loan.c.plan_id.is_not(None),
        sa.or_(loan.c.returned_at.is_(None), loan.c.returned_at > since),
    )
    return _past(connection, sa.union(promised, lent))


def check_block(connection: sa.Connection, site: str, name: str) -> None:
    """Whether the site has or ever had the block.

    Raises:
        UnknownError: it never had.
    """
    query = sa.select(block.c.id).where(block.c.site_id == site, block.c.id == name)
    if connection.execute(query).first() is None:
        raise UnknownError("block", name)


def _past(
    connection: sa.Connection, names: sa.Select[Any] | sa.CompoundSelect[Any]
) -> tuple[PastPlan, ...]:
    wanted = names.subquery()
    chosen = sa.select(wanted.c[0])
    replaced = _replaced(connection, chosen)
    promises = _by_plan(_rows(connection, PastPromise, promise, chosen))
    loans = _by_plan(_rows(connection, Loan, loan, chosen))
    columns = [plan.c[name] for name in PlanHead.__struct_fields__]
    query = sa.select(*columns, plan.c.record).where(plan.c.id.in_(chosen))
    return tuple(
        PastPlan(
            plan=msgspec.convert(row, PlanHead, from_attributes=True),
            records=(*replaced.get(row.id, ()), _last(row.record)),
            promises=promises.get(row.id, ()),
            loans=loans.get(row.id, ()),
        )
        for row in connection.execute(query.order_by(plan.c.starts_at, plan.c.id))
    )


def _last(record: str) -> PastRecord:
    return PastRecord(record=Raw(record.encode()), replaced_at=None)


def _rows(
    connection: sa.Connection, kind: type[T], table: sa.Table, plans: sa.Select[Any]
) -> Iterable[T]:
    columns = [table.c[name] for name in kind.__struct_fields__]
    query = sa.select(*columns).where(table.c.plan_id.in_(plans)).order_by(table.c.n)
    rows = connection.execute(query)
    return (msgspec.convert(row, kind, from_attributes=True) for row in rows)


def _by_plan(found: Iterable[T]) -> dict[str | None, tuple[T, ...]]:
    sorted_out: dict[str | None, list[T]] = {}
    for each in found:
        sorted_out.setdefault(each.plan_id, []).append(each)
    return {name: tuple(rows) for name, rows in sorted_out.items()}


def _replaced(
    connection: sa.Connection, plans: sa.Select[Any]
) -> dict[str, tuple[PastRecord, ...]]:
    """By plan, the records that others took the place of."""
    query = (
        sa.select(history.c.subject, history.c.at, history.c.detail)
        .where(history.c.what == REPLANNED, history.c.subject.in_(plans))
        .order_by(history.c.n)
    )
    found: dict[str, tuple[PastRecord, ...]] = {}
    for name, at, detail in connection.execute(query):
        record = _DETAILS.decode(detail).replaced_record
        if record != _NONE:
            past = PastRecord(record=record, replaced_at=at)
            found[name] = (*found.get(name, ()), past)
    return found
