"""Loans: blocks that went out, for whom, and how they came back; and who is promised them."""

from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta
from typing import Any

import sqlalchemy as sa
from msgspec import Struct
from msgspec.structs import asdict, replace

from wrung_service.store.blocks import Condition
from wrung_service.store.pages import Page, Place, page_of
from wrung_service.store.prepared import prepared
from wrung_service.store.tables import loan, plan, promise


@prepared
class Loan(Struct, frozen=True, kw_only=True):
    """One block that went out; ``returned_at`` None: it is still out."""

    block_id: str
    plan_id: str | None
    borrower: str | None
    issued_at: datetime
    issued_by: str
    due_at: datetime | None
    returned_at: datetime | None = None
    returned_by: str | None = None
    returned_condition: Condition | None = None
    note: str | None = None


class LoanFilter(Struct, frozen=True, kw_only=True):
    """Which loans are wanted; None leaves a question open. ``late_at``: out, and due before."""

    block: str | None = None
    plan: str | None = None
    out: bool | None = None
    late_at: datetime | None = None


class Claim(Struct, frozen=True, kw_only=True):
    """A promise of a block that is not over; ``due_at`` is its end without the pause after it."""

    block: str
    plan: str
    job: str
    operation: str | None
    starts_at: datetime
    ends_at: datetime
    due_at: datetime


def list_loans(connection: sa.Connection, of: str, wanted: LoanFilter, place: Place) -> Page[Loan]:
    """Loans of the site, the oldest first."""
    query = sa.select(loan, loan.c.n.label("id")).where(loan.c.site_id == of)
    if wanted.block is not None:
        query = query.where(loan.c.block_id == wanted.block)
    if wanted.plan is not None:
        query = query.where(loan.c.plan_id == wanted.plan)
    if wanted.out is not None:
        back = loan.c.returned_at
        query = query.where(back.is_(None) if wanted.out else back.is_not(None))
    if wanted.late_at is not None:
        query = query.where(loan.c.returned_at.is_(None), loan.c.due_at < wanted.late_at)
    if place.after is not None:
        query = query.where(loan.c.n > int(place.after))
    return page_of(connection, query, loan.c.n, replace(place, after=None), _loan)


def open_loans(connection: sa.Connection, of: str, names: Sequence[str]) -> dict[str, Loan]:
    """The loans of those of these blocks that are out, by block."""
    query = sa.select(loan).where(
        loan.c.site_id == of, loan.c.block_id.in_(names), loan.c.returned_at.is_(None)
    )
    return {row.block_id: _loan(row) for row in connection.execute(query)}


def insert_loans(connection: sa.Connection, of: str, made: Sequence[Loan]) -> None:
    """Write new loans."""
    connection.execute(sa.insert(loan), [{"site_id": of, **asdict(each)} for each in made])


def close_loan(connection: sa.Connection, of: str, back: Loan) -> None:
    """Write how the block of an open loan came back."""
    same = (
        loan.c.site_id == of,
        loan.c.block_id == back.block_id,
        loan.c.returned_at.is_(None),
    )
    values = {
        "returned_at": back.returned_at,
        "returned_by": back.returned_by,
        "returned_condition": back.returned_condition,
        "note": back.note,
    }
    connection.execute(sa.update(loan).where(*same).values(**values))


def claims(
    connection: sa.Connection, of: str, names: Sequence[str], now: datetime
) -> tuple[Claim, ...]:
    """Who these blocks are promised to from now on, the earliest first."""
    query = (
        sa.select(promise, plan.c.job, plan.c.operation, plan.c.pause_s)
        .join(plan, plan.c.id == promise.c.plan_id)
        .where(
            promise.c.site_id == of,
            promise.c.block_id.in_(names),
            promise.c.released_at.is_(None),
            promise.c.ends_at > now,
        )
        .order_by(promise.c.starts_at, promise.c.n)
    )
    return tuple(
        Claim(
            block=row.block_id,
            plan=row.plan_id,
            job=row.job,
            operation=row.operation,
            starts_at=row.starts_at,
            ends_at=row.ends_at,
            due_at=row.ends_at - timedelta(seconds=row.pause_s),
        )
        for row in connection.execute(query)
    )


def jobs_of(connection: sa.Connection, loans: Iterable[Loan]) -> dict[str | None, str]:
    """By plan, the jobs that these blocks went out for."""
    names = {each.plan_id for each in loans if each.plan_id is not None}
    query = sa.select(plan.c.id, plan.c.job).where(plan.c.id.in_(names))
    return {row.id: row.job for row in connection.execute(query)}


def _loan(row: Any) -> Loan:  # noqa: ANN401 - a row
    return Loan(**{name: getattr(row, name) for name in Loan.__struct_fields__})
