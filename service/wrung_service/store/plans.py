"""Plans: made, read, listed, changed and ended."""

from collections.abc import Iterable
from datetime import datetime
from typing import Any, Final, Literal, TypeAlias

import msgspec
import sqlalchemy as sa
from msgspec import Struct

from wrung_service.store.errors import UnknownError, VersionError
from wrung_service.store.prepared import prepared
from wrung_service.store.tables import loan, plan, promise, risk

PlanState: TypeAlias = Literal["planned", "done", "cancelled", "expired"]
REPLANNED: Final = "plan.replanned"
"""What history says of a plan with another answer; its detail has the record before."""


@prepared
class PlanHead(Struct, frozen=True, kw_only=True):
    """A plan without what was asked and answered.

    Attributes:
        starts_at: first moment of need of any of its stacks.
        ends_at: end of the last need, without the pause after it.
    """

    id: str
    site_id: str
    job: str
    operation: str | None
    priority: int | None
    state: PlanState
    starts_at: datetime
    ends_at: datetime
    pause_s: int
    expires_at: datetime | None
    made_at: datetime
    made_by: str
    ended_at: datetime | None
    version: int


@prepared
class StoredPlan(PlanHead, frozen=True, kw_only=True):
    """A plan with the bodies of its request and its answer, and its record, as JSON."""

    request: str
    answer: str
    record: str


class PlanFilter(Struct, frozen=True, kw_only=True):
    """Which plans of a site are looked for, and where the list goes on."""

    site: str
    job: str | None = None
    state: PlanState | None = None
    ending_after: datetime | None = None
    starting_before: datetime | None = None
    after: tuple[datetime, str] | None = None
    limit: int


def _columns(kind: type[PlanHead]) -> list[sa.Column[Any]]:
    return [plan.c[name] for name in kind.__struct_fields__]


def add_plan(connection: sa.Connection, new: StoredPlan) -> None:
    """Keep a plan."""
    values = {name: getattr(new, name) for name in StoredPlan.__struct_fields__}
    connection.execute(sa.insert(plan), values)


def plan_of(connection: sa.Connection, name: str, *, to_change: bool = False) -> StoredPlan:
    """The plan of that id.

    Args:
        connection: of a transaction.
        name: its id.
        to_change: whether others who want to change it wait until the transaction ends.

    Raises:
        UnknownError: there is none.
    """
    query = sa.select(*_columns(StoredPlan)).where(plan.c.id == name)
    # SQLite has one writer at a time, and leaves that out.
    row = connection.execute(query.with_for_update() if to_change else query).first()
    if row is None:
        raise UnknownError("plan", name)
    return msgspec.convert(row, StoredPlan, from_attributes=True)


def plan_head(connection: sa.Connection, name: str) -> PlanHead:
    """What is said of the plan as a whole.

    Raises:
        UnknownError: there is none.
    """
    row = connection.execute(sa.select(*_columns(PlanHead)).where(plan.c.id == name)).first()
    if row is None:
        raise UnknownError("plan", name)
    return msgspec.convert(row, PlanHead, from_attributes=True)


def plans_of(connection: sa.Connection, wanted: PlanFilter) -> tuple[PlanHead, ...]:
    """Plans by the start of their need, as far as the limit goes."""
    conditions = [plan.c.site_id == wanted.site]
    if wanted.job is not None:
        conditions.append(plan.c.job == wanted.job)
    if wanted.state is not None:
        conditions.append(plan.c.state == wanted.state)
    if wanted.ending_after is not None:
        conditions.append(plan.c.ends_at > wanted.ending_after)
    if wanted.starting_before is not None:
        conditions.append(plan.c.starts_at < wanted.starting_before)
    if wanted.after is not None:
        at, name = wanted.after
        later = sa.and_(plan.c.starts_at == at, plan.c.id > name)
        # The first of the two says nothing new, but an index can begin there.
        conditions += [plan.c.starts_at >= at, sa.or_(plan.c.starts_at > at, later)]
    query = sa.select(*_columns(PlanHead)).where(*conditions)
    rows = connection.execute(query.order_by(plan.c.starts_at, plan.c.id).limit(wanted.limit))
    return tuple(msgspec.convert(row, PlanHead, from_attributes=True) for row in rows)


def change_plan(connection: sa.Connection, changed: StoredPlan) -> None:
    """Keep new bodies or a new state of a plan, which becomes its next version.

    Raises:
        VersionError: somebody changed it meanwhile.
    """
    done = connection.execute(
        sa.update(plan)
        .where(plan.c.id == changed.id, plan.c.version == changed.version)
        .values(
            state=changed.state,
            ended_at=changed.ended_at,
            request=changed.request,
            answer=changed.answer,
            record=changed.record,
            version=plan.c.version + 1,
        )
    )
    if done.rowcount != 1:
        raise VersionError("plan", changed.id)


def due_to_expire(
    connection: sa.Connection, site: str, now: datetime, *, to_change: bool = False
) -> tuple[PlanHead, ...]:
    """Plans whose time to be used is over, and of which nothing was ever issued.

    Args:
        connection: of a transaction.
        site: whose plans.
        now: the moment.
        to_change: whether others who want to change them wait until the transaction ends.
    """
    issued = sa.exists().where(loan.c.plan_id == plan.c.id)
    # Written out: with a parameter in its place no database could tell that the index will do.
    planned = plan.c.state == sa.literal_column("'planned'")
    query = sa.select(*_columns(PlanHead)).where(
        plan.c.site_id == site, planned, plan.c.expires_at <= now, ~issued
    )
    if to_change:
        # In one order, so that two never wait for each other; those that ended meanwhile are not
        # among them.
        query = query.order_by(plan.c.id).with_for_update(of=plan)
    return tuple(
        msgspec.convert(row, PlanHead, from_attributes=True) for row in connection.execute(query)
    )


def end_plan(connection: sa.Connection, ended: PlanHead, state: PlanState, now: datetime) -> None:
    """Put a planned plan into another state, and free its blocks.

    Raises:
        VersionError: somebody changed it meanwhile.
    """
    done = connection.execute(
        sa.update(plan)
        .where(plan.c.id == ended.id, plan.c.version == ended.version, plan.c.state == "planned")
        .values(state=state, ended_at=now, version=plan.c.version + 1)
    )
    if done.rowcount != 1:
        raise VersionError("plan", ended.id)
    connection.execute(
        sa.update(promise)
        .where(promise.c.plan_id == ended.id, promise.c.released_at.is_(None))
        .values(released_at=now)
    )
    settle_risks(connection, ended.id, now)


def settle_risks(connection: sa.Connection, name: str, now: datetime) -> None:
    """A plan that has ended, or was planned anew, is no longer at risk."""
    connection.execute(
        sa.update(risk)
        .where(risk.c.plan_id == name, risk.c.settled_at.is_(None))
        .values(settled_at=now)
    )


def risks_of(connection: sa.Connection, names: Iterable[str]) -> dict[str, tuple[str, ...]]:
    """By plan, the blocks that it will not have."""
    query = sa.select(risk.c.plan_id, risk.c.block_id).where(
        risk.c.plan_id.in_(list(names)), risk.c.settled_at.is_(None)
    )
    found: dict[str, tuple[str, ...]] = {}
    for name, block in connection.execute(query.order_by(risk.c.n)):
        found[name] = (*found.get(name, ()), block)
    return found
