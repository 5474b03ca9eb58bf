"""Promises: which plan has which block, and from when until when."""

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime

import sqlalchemy as sa
from msgspec import Struct

from wrung_service.store.errors import TakenError
from wrung_service.store.plans import PlanHead
from wrung_service.store.tables import block, loan, promise


class Promise(Struct, frozen=True, kw_only=True):
    """A block that a plan has from the start up to the end, with the pause after its use.

    Attributes:
        stack: the place, among the stacks of the plan's answer, of the first that it is for.
    """

    block: str
    stack: int
    starts_at: datetime
    ends_at: datetime


def lock_blocks(connection: sa.Connection, site: str, versions: Mapping[str, int]) -> None:
    """Hold blocks until the transaction ends, if they still are what they were when looked up.

    In the order of their ids, so that two transactions never wait for each other.

    Args:
        connection: of a transaction that writes.
        site: the site of the blocks.
        versions: by id, the version of each that was looked up.

    Raises:
        TakenError: one was changed, its condition, too, or went out.
    """
    query = sa.select(block.c.id, block.c.version).where(
        block.c.site_id == site,
        block.c.id.in_(list(versions)),
        block.c.removed_at.is_(None),
    )
    if connection.dialect.name != "sqlite":
        query = query.with_for_update(key_share=True)
    rows = connection.execute(query.order_by(block.c.id)).all()
    # Whatever changes a block, or lends it, makes it the next version.
    if {row.id: row.version for row in rows} != dict(versions):
        raise TakenError


def promises_of(connection: sa.Connection, plan: str) -> tuple[Promise, ...]:
    """What a plan has."""
    query = sa.select(
        promise.c.block_id, promise.c.stack, promise.c.starts_at, promise.c.ends_at
    ).where(promise.c.plan_id == plan, promise.c.released_at.is_(None))
    return in_order(_promise(*row) for row in connection.execute(query))


def in_order(found: Iterable[Promise]) -> tuple[Promise, ...]:
    """By block, then by time; not by the database, whose languages sort in different ways."""
    return tuple(sorted(found, key=lambda each: (each.block, each.starts_at)))


def _promise(name: str, stack: int, starts_at: datetime, ends_at: datetime) -> Promise:
    return Promise(block=name, stack=stack, starts_at=starts_at, ends_at=ends_at)


def add_promises(
    connection: sa.Connection, site: str, plan: str, wanted: Sequence[Promise]
) -> None:
    """Promise blocks that were locked before.

    Raises:
        TakenError: another plan has one of them at that time.
    """
    rows = [
        {
            "site_id": site,
            "plan_id": plan,
            "block_id": each.block,
            "stack": each.stack,
            "starts_at": each.starts_at,
            "ends_at": each.ends_at,
        }
        for each in in_order(wanted)
    ]
    if rows:
        # One statement: as a pipeline, each refusal would leave a line in the log of the driver.
        connection.execute(sa.insert(promise).returning(promise.c.n), rows).all()


def release(
    connection: sa.Connection, plan: PlanHead, gone: Iterable[Promise], now: datetime
) -> None:
    """Free blocks of a plan at some of its times."""
    for each in gone:
        connection.execute(
            sa.update(promise)
            .where(
                promise.c.plan_id == plan.id,
                promise.c.block_id == each.block,
                promise.c.starts_at == each.starts_at,
                promise.c.ends_at == each.ends_at,
                promise.c.released_at.is_(None),
            )
            .values(released_at=now)
        )


def plans_with_blocks_out(connection: sa.Connection, site: str) -> frozenset[str]:
    """Plans of which at least one block was issued and is not back."""
    query = sa.select(loan.c.plan_id).where(
        loan.c.site_id == site, loan.c.returned_at.is_(None), loan.c.plan_id.is_not(None)
    )
    return frozenset(connection.execute(query).scalars())
